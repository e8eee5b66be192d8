// A lot's life: what one event writes (the event itself, and what it changes on its lots), which lots a lot came from, and
// what was applied to it on the way. Pure.

import { momentMs } from "../core/moments.js";

/** @typedef {import("../sync/port.js").RecordRow} RecordRow */
/** @typedef {{ field: string, code: string, params?: Record<string, string | number> }} LifeProblem */

/** What can happen, and what is asked about it; the new lot's code of a split is asked apart. */
export const ASKED = Object.freeze(
  /** @type {Record<string, string[]>} */ ({
    stage: ["stage", "bbch"],
    moved: ["benches"],
    pinch: [],
    counted: ["n_containers"],
    transplant: ["n_containers", "container", "benches"],
    split: ["n_containers", "benches"],
    merged: ["other_lots"],
    shipped: ["n_containers", "customer"],
    discarded: ["n_containers"],
    stick: ["n_containers", "container", "benches"],
    off_mist: [],
  }),
);

const NEEDED = /** @type {Record<string, string[]>} */ ({
  stage: ["stage"],
  moved: ["benches"],
  counted: ["n_containers"],
  split: ["n_containers"],
  merged: ["other_lots"],
});

/**
 * What an event writes.
 * @param {string} what
 * @param {Record<string, any>} told   The event's fields as wire values; `at` is a moment.
 * @param {RecordRow} lot
 * @param {RecordRow[]} others         The lots of `told.other_lots`.
 * @param {{ id: string, code: string } | null} fresh  The lot that a split makes.
 * @returns {{ problems: LifeProblem[], event: Record<string, any>, changes: { row: RecordRow, wanted: Record<string, any> }[],
 *   created: { id: string, fields: Record<string, any> } | null }}
 */
export function eventOf(what, told, lot, others, fresh) {
  const before = lot.shown.fields;
  const n = told.n_containers ?? null;
  const problems = problemsOf(what, told, before, others, fresh);
  /** @type {Record<string, any>} */
  const event = { ...told, lot: lot.id, what };
  /** @type {{ row: RecordRow, wanted: Record<string, any> }[]} */
  let changes = [];
  /** @type {{ id: string, fields: Record<string, any> } | null} */
  let created = null;
  switch (what) {
    case "stick":
    case "transplant":
      changes = [
        {
          row: lot,
          wanted: {
            ...given(told, ["n_containers", "container", "benches"]),
            ...(what === "stick" && told.at ? { started_on: told.at.local.slice(0, 10) } : {}),
          },
        },
      ];
      break;
    case "moved":
      changes = [{ row: lot, wanted: { benches: told.benches } }];
      break;
    case "counted":
      changes = [{ row: lot, wanted: { n_containers: n } }];
      break;
    case "stage":
      // a stage without its number is a new stage: the old number does not belong to it
      changes = [{ row: lot, wanted: { stage: told.stage ?? null, bbch: told.bbch ?? null } }];
      break;
    case "shipped":
    case "discarded": {
      const rest = n === null ? 0 : restOf(before, n);
      changes = [
        {
          row: lot,
          wanted: {
            ...(rest === null ? {} : { n_containers: rest }),
            ...(rest === 0 ? { phase: what, benches: null } : {}),
          },
        },
      ];
      break;
    }
    case "split":
      changes = [{ row: lot, wanted: restOf(before, n) === null ? {} : { n_containers: restOf(before, n) } }];
      if (fresh) {
        created = { id: fresh.id, fields: splitOff(before, lot.id, told, fresh.code) };
        event.other_lots = [fresh.id];
      }
      break;
    case "merged":
      changes = mergedLots(lot, others);
      break;
  }
  return {
    problems,
    event,
    changes: changes.filter(({ wanted }) => Object.keys(wanted).length > 0),
    created,
  };
}

/** @param {Record<string, any>} told @param {string[]} names */
const given = (told, names) =>
  Object.fromEntries(
    names
      .filter(
        (name) => (told[name] ?? null) !== null && !(Array.isArray(told[name]) && told[name].length === 0),
      )
      .map((name) => [name, told[name]]),
  );

/** What is left of a lot; null where its number is not on file. @param {Record<string, any>} before @param {number | null} n */
const restOf = (before, n) =>
  before.n_containers === undefined || before.n_containers === null
    ? null
    : Math.max(0, before.n_containers - (n ?? 0));

/** @param {Record<string, any>} before @param {string} from @param {Record<string, any>} told @param {string} code */
function splitOff(before, from, told, code) {
  const { n_containers, benches, from_lots, phase, code: old, ...rest } = before;
  return {
    ...rest,
    code,
    phase: "growing",
    from_lots: [from],
    n_containers: told.n_containers ?? null,
    benches: told.benches?.length > 0 ? told.benches : (benches ?? null),
  };
}

/** @param {RecordRow} lot @param {RecordRow[]} others */
function mergedLots(lot, others) {
  const all = [lot, ...others].map((row) => row.shown.fields);
  const numbers = all.map((fields) => fields.n_containers ?? null);
  const sum = numbers.includes(null) ? null : numbers.reduce((total, n) => total + n, 0);
  return [
    {
      row: lot,
      wanted: {
        n_containers: sum,
        benches: [...new Set(all.flatMap((fields) => fields.benches ?? []))],
        from_lots: [...new Set([...(lot.shown.fields.from_lots ?? []), ...others.map((row) => row.id)])],
      },
    },
    ...others.map((row) => ({ row, wanted: { phase: "merged", benches: null } })),
  ];
}

/**
 * @param {string} what @param {Record<string, any>} told @param {Record<string, any>} before @param {RecordRow[]} others
 * @param {{ id: string, code: string } | null} fresh @returns {LifeProblem[]}
 */
function problemsOf(what, told, before, others, fresh) {
  /** @type {LifeProblem[]} */
  const problems = [];
  const isEmpty = (/** @type {any} */ value) => value === null || value === undefined || value.length === 0;
  for (const field of NEEDED[what] ?? [])
    if (isEmpty(told[field])) problems.push({ field, code: "life.needed" });
  if (isEmpty(told.at)) problems.push({ field: "at", code: "life.needed" });
  const here = before.n_containers ?? null;
  const takes = ["split", "shipped", "discarded"].includes(what) ? (told.n_containers ?? null) : null;
  if (takes !== null && here !== null && takes > here)
    problems.push({ field: "n_containers", code: "life.more_than_there", params: { n: here } });
  if (what === "split" && takes !== null && takes === here)
    problems.push({ field: "n_containers", code: "life.all_of_it" });
  if (what === "split" && !fresh?.code) problems.push({ field: "code", code: "life.needed" });
  const strange = others.find((row) => row.shown.fields.crop !== before.crop);
  if (what === "merged" && strange)
    problems.push({
      field: "other_lots",
      code: "life.other_crop",
      params: { crop: strange.shown.fields.crop ?? "–" },
    });
  return problems;
}

/**
 * The lots that a lot came from, through splits and merges, each with the moment up to which its past is this lot's past
 * too: what was applied to a parent after the split is no part of it. "" where no event says when: then all of it counts.
 * @param {string} lotId @param {RecordRow[]} lots @param {RecordRow[]} events  Of kind lot_event.
 * @returns {{ lot: string, until: string }[]}  Without the lot itself; nearest first.
 */
export function ancestorsOf(lotId, lots, events) {
  const byId = new Map(lots.map((row) => [row.id, row.shown.fields]));
  /** @type {Map<string, string>} */
  const found = new Map();
  /** @param {string} child @param {string} limit */
  const climb = (child, limit) => {
    for (const parent of byId.get(child)?.from_lots ?? []) {
      if (parent === lotId || found.has(parent)) continue;
      const parted = partedAt(child, parent, events);
      const until = [parted, limit].filter(Boolean).sort()[0] ?? "";
      found.set(parent, until);
      climb(parent, until);
    }
  };
  climb(lotId, "");
  return [...found].map(([lot, until]) => ({ lot, until }));
}

/** When parent and child parted (split) or met (merged), as UTC; "" where no event says so.
 * @param {string} child @param {string} parent @param {RecordRow[]} events */
function partedAt(child, parent, events) {
  const event = events.find(({ shown: { fields, state } }) => {
    if (state === "void") return false;
    if (fields.what === "split") return fields.lot === parent && fields.other_lots?.includes(child);
    return fields.what === "merged" && fields.lot === child && fields.other_lots?.includes(parent);
  });
  return event ? utcOf(event.shown.fields.at) : "";
}

/** A moment as UTC text that sorts; "" where there is none. @param {any} moment */
function utcOf(moment) {
  if (!moment?.local) return "";
  return new Date(momentMs(moment)).toISOString();
}

/**
 * All that happened to a lot, newest first.
 * @param {string} lotId
 * @param {{ lots: RecordRow[], events: RecordRow[], supplied: RecordRow[], applications: RecordRow[] }} book
 * @returns {{ sort: "event" | "supplied" | "applied", row: RecordRow, at: string, day: string, from: string | null }[]}
 *   at    UTC, or the day alone; "" where none is on file. from  The parent lot that it happened to.
 */
export function lifeOf(lotId, { lots, events, supplied, applications }) {
  const line = [{ lot: lotId, until: "" }, ...ancestorsOf(lotId, lots, events)];
  const isShown = (/** @type {RecordRow} */ row) => row.shown.state !== "void";
  const found = line.flatMap(({ lot, until }) => {
    const from = lot === lotId ? null : lot;
    const isBefore = (/** @type {string} */ at) => until === "" || at === "" || at <= until;
    return [
      ...applications
        .filter(
          (row) =>
            isShown(row) && (row.shown.fields.lines ?? []).some((/** @type {any} */ one) => one.lot === lot),
        )
        .map((row) => entry("applied", row, row.shown.fields.started_at, from)),
      ...supplied
        .filter((row) => isShown(row) && row.shown.fields.lot === lot)
        .map((row) => ({
          ...entry("supplied", row, null, from),
          at: row.shown.fields.applied_on ?? "",
          day: row.shown.fields.applied_on ?? "",
        })),
      ...events
        .filter(
          (row) =>
            isShown(row) &&
            (row.shown.fields.lot === lot || (from === null && row.shown.fields.other_lots?.includes(lot))),
        )
        .map((row) => entry("event", row, row.shown.fields.at, from)),
    ].filter(({ at }) => isBefore(at));
  });
  const once = new Map(found.reverse().map((one) => [one.row.key, one]));
  return [...once.values()].sort((a, b) => (a.at < b.at ? 1 : a.at > b.at ? -1 : 0));
}

/** @param {"event" | "supplied" | "applied"} sort @param {RecordRow} row @param {any} moment @param {string | null} from */
const entry = (sort, row, moment, from) => ({
  sort,
  row,
  at: utcOf(moment),
  day: moment?.local?.slice(0, 10) ?? "",
  from,
});
