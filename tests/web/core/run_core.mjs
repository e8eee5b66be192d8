// node run_core.mjs CORE_DIR CASES.json RESULTS.json: run cases with the shipped modules and write what they give.
import { readFileSync, writeFileSync } from "node:fs";
import { pathToFileURL } from "node:url";
import { Core } from "./call_core.js";

const [coreDir, casesPath, resultsPath] = process.argv.slice(2);
const { modules, cases } = JSON.parse(readFileSync(casesPath, "utf8"));
const core = await Core.load(`${pathToFileURL(coreDir).href}/`, modules);
writeFileSync(resultsPath, JSON.stringify({ names: core.publicNames(), results: core.run(cases) }));
