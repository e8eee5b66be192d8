// Restrictions in words: colour, icon and word of a state, until when, and what still stands against reopening. Never
// "clear", never "open": a phone can't know that.
import { clockTime, countdown, dayAndMonth, dayAt } from "../ui/when.js";
import { t } from "../ui/words.js";

/** @typedef {import("../state/restrictions.js").Clock} Clock */
/** @typedef {import("../state/restrictions.js").HouseState} HouseState */

/** "20:05", with its day where that is not today. @param {number} ms @param {number} nowMs @param {string} language */
export function whenText(ms, nowMs, language) {
  return dayAt(ms) === dayAt(nowMs) ? clockTime(ms) : `${dayAndMonth(dayAt(ms), language)} ${clockTime(ms)}`;
}

/** @param {Clock} clock */
export const heardText = ({ heardMs }) =>
  heardMs === null ? t("board.never_heard") : t("board.heard", { time: clockTime(heardMs) });

/** Where a restriction counts: benches, the whole house, 25 ft round.
 * @param {Record<string, any>} fields @param {string} [house]  Named already where this stands. */
export function areaText(fields, house = "") {
  if (fields.area === "whole_house") return t("board.whole_house");
  const place = house ? (fields.place ?? "").replaceAll(`${house}, `, "") : (fields.place ?? "");
  return fields.area === "treated_area_25_ft" ? t("board.area_25_ft", { place }) : place;
}

/**
 * A restriction in a few words.
 * @param {HouseState["known"][0]} known @param {Clock} clock @param {string} language
 * @param {string} [by]  Who applies. @param {string} [house]  Its house, where that is named already.
 * @returns {{tone: "caution" | "stopped" | "waiting" | "passed", word: string, lines: string[], left: string}}
 */
export function restrictionText({ row, state, isReopenedHere }, clock, language, by = "", house = "") {
  const { fields } = row.shown;
  const here = isReopenedHere ? [t("board.reopened_here")] : [];
  if (state.code === "being_sprayed") {
    const since = fields.started_at?.local.slice(11, 16) ?? "";
    return {
      tone: "caution",
      word: t("board.being_sprayed"),
      lines: [t(by ? "board.since_by" : "board.since", { time: since, name: by }), ...here],
      left: "",
    };
  }
  const until = state.until_ms;
  const isOver = until !== null && clock.nowMs >= until;
  const first =
    until === null
      ? t("board.rei_unknown")
      : isOver
        ? t("board.over_not_reopened", { time: whenText(until, clock.nowMs, language) })
        : t("board.until", { time: whenText(until, clock.nowMs, language) });
  return {
    tone: "stopped",
    word: areaText(fields, house) || t("board.restricted"),
    lines: [first, ...here],
    left: until === null || isOver ? "" : t("board.left", { left: countdown(until - clock.nowMs) }),
  };
}

/**
 * A house in a few words, for a tile.
 * @param {HouseState} house @param {Clock} clock @param {string} language @param {(row: any) => string} operatorOf
 * @param {string} [name]  Of the house, which stands beside it.
 */
export function houseText(house, clock, language, operatorOf, name = "") {
  const heard = heardText(clock);
  if (house.known.length > 0) {
    const first = restrictionText(house.known[0], clock, language, operatorOf(house.known[0].row), name);
    const more = house.known.length > 1 ? [t("board.more", { n: house.known.length - 1 })] : [];
    return { ...first, lines: [...first.lines, ...more, ...(house.isStale ? [heard] : [])] };
  }
  const isUnknown = house.code === "unknown";
  return {
    tone: /** @type {"waiting" | "passed"} */ (isUnknown ? "waiting" : "passed"),
    word: t(isUnknown ? "board.unknown" : "board.none_on_file"),
    lines: [heard],
    left: "",
  };
}

/** The conditions for reopening, in the order of the day: each with whether it is met and, if not, what to do.
 * @param {HouseState["known"][0]} known @param {Clock} clock @param {string} language */
export function conditionsOf({ row, state }, clock, language) {
  const { fields } = row.shown;
  const unmet = new Map(state.unmet.map((finding) => [finding.code, finding]));
  const at = (/** @type {any} */ moment) => moment?.local.slice(11, 16) ?? "";
  const has = (/** @type {string[]} */ ...codes) => codes.some((code) => unmet.has(code));
  const isSpraying = state.code === "being_sprayed";
  const expected = state.ventilation?.expected_ms;
  /** @param {string} name @param {boolean} isMet @param {string} detail @param {string | null} source */
  const one = (name, isMet, detail, source) => ({
    name,
    isMet,
    title: t(`condition.${name}`),
    detail,
    source,
  });
  const list = [
    one(
      "ended",
      !isSpraying,
      isSpraying ? t("condition.ended_not") : t("condition.ended_at", { time: at(fields.ended_at) }),
      "40 CFR 170.405(b)",
    ),
    one(
      "rei",
      !isSpraying && !has("restriction.rei_unknown", "restriction.rei_running"),
      state.is_rei_unknown || fields.rei_unknown
        ? t("condition.rei_unknown")
        : state.until_ms === null
          ? t("condition.rei_from_end")
          : t(clock.nowMs >= state.until_ms ? "condition.rei_over" : "condition.rei_until", {
              time: whenText(state.until_ms, clock.nowMs, language),
            }),
      "40 CFR 170.407(b)",
    ),
  ];
  if (state.ventilation !== null || (isSpraying && fields.ventilation_owed)) {
    const isMet = state.ventilation?.is_met === true;
    list.push(
      one(
        "ventilation",
        isMet,
        isMet
          ? t("condition.ventilated", { how: t(`ventilation.${state.ventilation?.option}`) })
          : expected
            ? t("condition.ventilated_at", { time: whenText(expected, clock.nowMs, language) })
            : t("condition.not_ventilated"),
        "40 CFR 170.405(b)(3)",
      ),
    );
  }
  const hasSigns = fields.signs_up_at || has("restriction.signs_up");
  if (hasSigns || fields.signs_down_at) {
    list.push(
      one(
        "signs",
        Boolean(fields.signs_down_at),
        fields.signs_down_at
          ? t("condition.signs_down_at", { time: at(fields.signs_down_at) })
          : t(fields.signs_up_at ? "condition.signs_up" : "condition.signs_owed"),
        "40 CFR 170.407(b)",
      ),
    );
  }
  list.push(one("heard", !state.is_stale, heardText(clock), null));
  return list;
}
