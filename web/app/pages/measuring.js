// Measuring as it happens: what stands on this phone of one assessment, where the person is, and every value saved as it
// is entered. The screen moves on at once; a value that could not be saved comes back with its digits.
import { useSignal } from "@preact/signals";
import { useEffect, useMemo, useRef } from "preact/hooks";
import { useDraft, useRecord, useTepal } from "../state/context.js";
import {
  assessmentsBefore,
  fieldOf,
  firstOpen,
  idParts,
  nextOpen,
  openOfPlot,
  plannedOf,
  stopsOf,
} from "../state/measure.js";

/** @typedef {import("../state/measure.js").Stop} Stop */
/** What an entry replaced, so that it can be taken back. @typedef {{at: number, well: number, was: Record<string, any>}} Undo */

const CHUNK = 25; // records read at once: more would hold the screen up on a slow phone
const QUIET_MS = 1500; // after the last touch, before news from other phones is looked at

/**
 * @param {string} trialId @param {string} plannedCode
 * @param {string[]} again  Plots to measure once more without a look at their values: kept apart from the first ones.
 */
export function useMeasuring(trialId, plannedCode, again = []) {
  const code = again.length > 0 ? `${plannedCode}.again` : plannedCode;
  const tepal = useTepal();
  const { book, save } = tepal;
  const trial = useRecord("trial", trialId);
  const member = tepal.session.value?.member?.id ?? "";
  const fields = trial?.shown.fields;
  const planned = useMemo(() => plannedFor(fields, plannedCode, code), [fields, code]);
  const stops = useMemo(() => {
    const all = fields && planned ? stopsOf(fields, planned) : [];
    return again.length > 0 ? all.filter((one) => again.includes(one.code)) : all;
  }, [fields, planned, again.join()]);
  /** Ids are hashes: those of 1,600 plants at once would hold a slow phone up, so each is made when it is asked for. */
  const idAt = useMemo(() => {
    /** @type {string[]} */
    const made = [];
    return (/** @type {number} */ place) => {
      made[place] ??= planned ? book.sharedId(...idParts(trialId, planned, stops[place], member)) : "";
      return made[place];
    };
  }, [stops]);
  const placeOf = useMemo(() => new Map(stops.map((one, i) => [one, i])), [stops]);
  const before = useMemo(() => (fields && planned ? assessmentsBefore(fields, planned) : []), [planned]);
  const assessmentId = useMemo(() => book.sharedId(trialId, code), [trialId, code]);
  const draft = useDraft(`measure/${trialId}/${code}`, {
    at: -1, // not begun on this phone: the first plant that is open
    well: 0,
    text: "",
    /** @type {string | null} the text whose question was answered with "keep" */ kept: null,
    /** @type {Undo | null} the last entry, which can be taken back after a restart too */ last: null,
  });

  /** Fields of each observation that this phone has, by its place in the walk. Replaced, never changed in place. */
  const rows = useRef(/** @type {Map<number, Record<string, any>>} */ (new Map()));
  const version = useSignal(0);
  const isRead = useSignal(false);
  const failure = useSignal(
    /** @type {{at: number, well: number, text: string, why: string} | null} */ (null),
  );
  const undone = useRef(/** @type {Undo[]} */ ([]));
  const chain = useRef(/** @type {Promise<unknown>} */ (Promise.resolve()));
  const touched = useRef(0);
  const hasAssessment = useRef(false);
  const heardAt = useRef(0);
  const ownWrites = useRef(0);

  /** Read what is on file, a piece at a time, until told to stop. @param {number[]} places @param {() => boolean} [goesOn] */
  async function read(places, goesOn = () => true) {
    for (let start = 0; start < places.length && goesOn(); start += CHUNK) {
      const part = places.slice(start, start + CHUNK);
      const found = await book.getMany(
        "observation",
        part.map((at) => idAt(at)),
      );
      part.forEach((at, i) => {
        if (found[i]?.shown) rows.current.set(at, /** @type {any} */ (found[i]).shown.fields);
      });
      await new Promise((resolve) => setTimeout(resolve, 0));
    }
  }

  useEffect(() => {
    if (stops.length === 0) return;
    let isHere = true;
    rows.current = new Map();
    isRead.value = false;
    heardAt.current = tepal.observed.peek();
    ownWrites.current = 0;
    Promise.all([
      read(
        stops.map((_, at) => at),
        () => isHere,
      ),
      book.get("assessment", assessmentId),
    ]).then(([, row]) => {
      if (!isHere) return;
      hasAssessment.current = Boolean(row?.shown);
      isRead.value = true;
      version.value += 1;
    });
    return () => {
      isHere = false;
    };
  }, [stops]);

  // another phone measures too: what it has done is looked at when this one rests, and only where this one has nothing
  useEffect(() => {
    if (!isRead.value) return;
    // each own value is such a write as well, and no news
    if (tepal.observed.value - heardAt.current <= ownWrites.current) return undefined;
    const timer = setTimeout(async () => {
      const rests = () => tepal.nowMs() - touched.current >= QUIET_MS;
      if (!rests()) return;
      const open = stops.map((_, at) => at).filter((at) => !rows.current.has(at));
      const n = rows.current.size;
      const from = { heard: tepal.observed.peek(), own: ownWrites.current };
      await read(open, rests);
      if (rests()) {
        heardAt.current = from.heard;
        ownWrites.current -= from.own;
      }
      if (rows.current.size > n) version.value += 1;
    }, QUIET_MS);
    return () => clearTimeout(timer);
  }, [tepal.observed.value, isRead.value]);

  const fieldsAt = (/** @type {Stop} */ one) => rows.current.get(placeOf.get(one) ?? -1);
  const isBegun = draft.value.at >= 0;
  const at = isBegun
    ? Math.min(draft.value.at, Math.max(stops.length - 1, 0))
    : (nextOpen(stops, fieldsAt, 0) ?? 0);
  const stop = stops[at];
  const well = !stop
    ? 0
    : isBegun
      ? Math.min(draft.value.well, stop.definitions.length - 1)
      : firstOpen(stop, fieldsAt(stop));

  // looked up while the plant is measured, never shown before its value: a lookup after the last digit would lose the next
  const lookup = useRef(/** @type {Map<number, any>} */ (new Map()));
  useEffect(() => {
    lookup.current = new Map();
  }, [stops]);
  useEffect(() => {
    if (!isRead.value || !stop || before.length === 0) return undefined;
    const timer = setTimeout(async () => {
      for (const place of [at, (at + 1) % stops.length]) {
        if (!lookup.current.has(place)) lookup.current.set(place, await earlierOf(stops[place]));
      }
      if (goneIn(lookup.current.get(at))) version.value += 1; // said before somebody looks for the plant
    }, 0);
    return () => clearTimeout(timer);
  }, [stops, at, isRead.value]);

  /** What is on file of the same plant, latest first. @param {Stop} one @returns {Promise<Record<string, any>[]>} */
  async function earlierOf(one) {
    const found = await book.getMany(
      "observation",
      before.map((look) => book.sharedId(trialId, look.code, one.plot, one.plant)),
    );
    return found.map((row) => row?.shown?.fields ?? {});
  }

  /** @param {number} place */
  const cameTo = (place) => ({
    at: place,
    well: firstOpen(stops[place], rows.current.get(place)),
    text: "",
    kept: null,
  });

  /** Where one goes after a measurement: the next one of the plant, then the next plant that is not whole.
   * @returns {{at: number, well: number, text: string, kept: null, isWhole?: boolean}} */
  function after() {
    const own = rows.current.get(at) ?? {};
    const open = stop.definitions.findIndex(
      (one, i) => i > well && (own[fieldOf(one.code)] ?? null) === null,
    );
    if (open >= 0) return { at, well: open, text: "", kept: null };
    const next = nextOpen(stops, fieldsAt, (at + 1) % stops.length);
    return next === null ? { at, well, text: "", kept: null, isWhole: true } : cameTo(next);
  }

  /**
   * Save fields of the stop one is at. Observer and time are the entry's own: were they fields, two phones that measure
   * different things on one plant would differ over them.
   * @param {Record<string, any>} values @param {string | null} reason @param {number} place @param {any} keepAlso
   */
  function keepValues(values, reason, place, keepAlso) {
    const id = idAt(place);
    const old = rows.current.get(place);
    const about = stops[place];
    const start = { trial: trialId, assessment: code, plot: about.plot, plant: about.plant };
    const isAgain = again.length > 0 ? { again: true } : {};
    const observer = planned?.sort === "warm_up" ? { observer: member } : {};
    const wanted = old ? values : { ...start, ...observer, ...isAgain, ...values };
    const changes = book.changesBetween(old ?? {}, wanted);
    const acts = [save.act("observation", id, old ? "change" : "create", changes, reason)];
    if (!hasAssessment.current) {
      hasAssessment.current = true;
      const made = book.changesBetween({}, { trial: trialId, code });
      acts.unshift(save.act("assessment", assessmentId, "create", made));
    }
    /** @type {Record<string, any>} */
    const fresh = { ...start, ...observer, ...isAgain, ...old, ...values };
    for (const [name, value] of Object.entries(fresh)) if (value === null) delete fresh[name];
    rows.current.set(place, fresh);
    version.value += 1;
    const was = { at: place, well, text: draft.value.text };
    chain.current = chain.current
      .then(() => {
        ownWrites.current += 1;
        return save.all(acts, { keep: draft.withMore(keepAlso) });
      })
      .catch((error) => {
        ownWrites.current -= 1;
        if (old) rows.current.set(place, old);
        else rows.current.delete(place);
        version.value += 1;
        failure.value = { ...was, why: error instanceof Error ? error.message : String(error) };
        draft.merge({ at: was.at, well: was.well, text: was.text, kept: null });
      });
  }

  /** @param {Record<string, any>} values @param {string | null} [reason] */
  function enter(values, reason = null) {
    touched.current = tepal.nowMs();
    failure.value = null;
    const place = at;
    const kept = rows.current.get(place);
    const last = {
      at,
      well,
      was: Object.fromEntries(Object.keys(values).map((name) => [name, kept?.[name] ?? null])),
    };
    undone.current.push(last);
    rows.current.set(place, { ...kept, ...values }); // so that `after` sees it
    const { isWhole = false, ...onward } = after();
    const next = { ...onward, last };
    if (kept) rows.current.set(place, kept);
    else rows.current.delete(place);
    keepValues(values, reason, place, next);
    draft.merge(next);
    return isWhole;
  }

  return {
    tepal,
    trial,
    fields,
    planned,
    isAgain: again.length > 0,
    stops,
    idAt,
    before,
    assessmentId,
    at,
    stop,
    well,
    draft,
    version,
    failure,
    isReady: draft.ready && isRead.value && stops.length > 0,
    fieldsAt,
    own: stop ? rows.current.get(at) : undefined,
    enter,
    /** Words beside the values; they open no next plant. @param {Record<string, any>} values */
    addWords(values) {
      touched.current = tepal.nowMs();
      keepValues(values, null, at, {});
    },
    /** Take the last entry back: what stood before it stands again, with the reason, and its digits can be typed again. */
    undo() {
      const last = undone.current.pop() ?? draft.value.last;
      if (!last || last.at >= stops.length) return;
      touched.current = tepal.nowMs();
      const back = {
        at: last.at,
        well: last.well,
        text: "",
        kept: null,
        last: undone.current.at(-1) ?? null,
      };
      keepValues(last.was, "undo", last.at, back);
      draft.merge(back);
    },
    /** @param {number} place */
    goTo(place) {
      failure.value = null;
      draft.merge(cameTo(place));
    },
    /** To the plant of a plot that is next to be measured. @param {number} first  The plot's first stop. */
    goToPlot(first) {
      failure.value = null;
      draft.merge(cameTo(openOfPlot(stops, fieldsAt, first)));
    },
    /** @param {number} place */
    openWell: (place) => draft.merge({ at, well: place, text: "", kept: null }),
    /** @param {string} text */
    typeText: (text) => draft.merge({ at, well, text }),
    /** Where the plant was found dead or discarded last time: why, and at which assessment. */
    goneBefore() {
      const found = lookup.current.get(at);
      const gone = goneIn(found);
      return gone ? { why: gone.condition, name: before[found.indexOf(gone)].name } : null;
    },
    /** The value of the same plant last time, asked for only after an entry: shown before, it would bias. Undefined
     * while it is being looked up. @param {string} name @returns {string | null | undefined} */
    earlierKnown(name) {
      const found = before.length === 0 ? [] : lookup.current.get(at);
      return found === undefined ? undefined : valueIn(found, name);
    },
    /** The same, waited for. @param {string} name @returns {Promise<string | null>} */
    earlier: async (name) => valueIn(await earlierOf(stop), name),
  };
}

/** @param {Record<string, any>[]} looks @param {string} name @returns {string | null} */
const valueIn = (looks, name) =>
  looks.map((fields) => fields[fieldOf(name)]).find((value) => typeof value === "string") ?? null;

/** The last look that said something of the plant, where it said that it is gone. @param {Record<string, any>[]} [looks] */
function goneIn(looks = []) {
  const last = looks.find((fields) => Object.keys(fields).length > 0);
  return last?.condition ? last : null;
}

/** @param {any} fields @param {string} plannedCode @param {string} code */
function plannedFor(fields, plannedCode, code) {
  const found = fields ? plannedOf(fields, plannedCode) : null;
  return found ? { ...found, code } : null;
}

/** @typedef {ReturnType<typeof useMeasuring>} Measuring */
