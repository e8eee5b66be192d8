// What the network does to one request: our server's word, or "offline", never a throw.

import assert from "node:assert/strict";
import { createServer } from "node:http";
import { after, before, test } from "node:test";
import { gunzipSync } from "node:zlib";
import { transport } from "../../../web/app/net/http.js";

const JSON_TYPE = { "Content-Type": "application/json" };
let server;
let answer;
let heard;
const realFetch = globalThis.fetch;

before(async () => {
  server = createServer((request, response) => {
    const chunks = [];
    request.on("data", (chunk) => chunks.push(chunk));
    request.on("end", () => {
      heard = { headers: request.headers, body: Buffer.concat(chunks) };
      answer(response);
    });
  });
  await new Promise((resolve) => server.listen(0, "127.0.0.1", resolve));
  const base = `http://127.0.0.1:${server.address().port}`;
  // a page has an origin of its own; Node needs the whole address
  globalThis.fetch = (path, init) => realFetch(base + path, init);
});

after(() => {
  globalThis.fetch = realFetch;
  server.closeAllConnections();
  server.close();
});

const answering = (status, headers, body) => {
  answer = (response) => {
    response.writeHead(status, headers);
    response.end(body);
  };
};

test("a reply of the server is handed on", async () => {
  answering(200, JSON_TYPE, '{"ack": 3}');
  assert.deepEqual(await transport.exchange({}), { ok: true, reply: { ack: 3 } });
});

test("a captive portal's page with status 200 means offline", async () => {
  answering(200, { "Content-Type": "text/html" }, "<html>Log in</html>");
  assert.deepEqual(await transport.exchange({}), {
    ok: false,
    cause: "offline",
    code: "not_our_server",
  });
});

test("a page that claims to be JSON means offline", async () => {
  answering(200, JSON_TYPE, "<html>Log in</html>");
  const sent = await transport.exchange({});
  assert.equal(sent.ok, false);
  assert.equal(sent.cause, "offline");
});

test("a redirect to a portal means offline", async () => {
  answering(302, { Location: "/portal" }, "");
  assert.equal((await transport.exchange({})).cause, "offline");
});

test("a connection that is cut means offline", async () => {
  answer = (response) => {
    response.writeHead(200, { ...JSON_TYPE, "Content-Length": "500" });
    response.write('{"ack":');
    setTimeout(() => response.destroy(), 5);
  };
  assert.equal((await transport.exchange({})).cause, "offline");
});

for (const [status, cause] of [
  [401, "signed-out"],
  [403, "refused"],
  [409, "busy"],
  [413, "busy"],
  [422, "refused"],
  [429, "busy"],
  [500, "busy"],
  [503, "busy"],
]) {
  test(`status ${status} means ${cause}`, async () => {
    answering(status, JSON_TYPE, '{"code": "some.code"}');
    const sent = await transport.exchange({});
    assert.deepEqual([sent.ok, sent.cause, sent.code], [false, cause, "some.code"]);
  });
}

test("a long body goes gzipped and arrives whole", async () => {
  answering(200, JSON_TYPE, "{}");
  const body = { entries: Array.from({ length: 200 }, (_, i) => `entry ${i} ünïcode 🌱`) };
  await transport.exchange(body);
  assert.equal(heard.headers["content-encoding"], "gzip");
  assert.deepEqual(JSON.parse(gunzipSync(heard.body).toString()), body);
});
