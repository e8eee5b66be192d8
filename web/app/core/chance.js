/**
 * Chance that can be repeated: bounded whole numbers and shuffles from the raw output of PCG64, bit for bit those of its
 * twin, server/tepal/designs/chance.py: a seed gives the same layout here and in the office.
 * References: O'Neill 2014, HMC-CS-2014-0905 (PCG XSL RR 128/64); O'Neill 2015, "Developing a seed_seq alternative" (how a
 * seed is stretched, as numpy's SeedSequence does); Durstenfeld 1964, Commun. ACM 7:420 (the shuffle).
 * @module
 */

import { OutOfRangeError } from "./errors.js";

/** Seeds travel as JSON numbers, which are exact only below 2**53. */
export const SEED_LIMIT = 2 ** 53;

const MASK_32 = 0xffffffffn;
const MASK_64 = 0xffffffffffffffffn;
const MASK_128 = (1n << 128n) - 1n;
const WORDS = 1n << 64n;
const MULTIPLIER = 0x2360ed051fc65da44385df649fccf645n;
const POOL = 4;

/** @param {number} seed @returns {number} @throws {OutOfRangeError} `designs.seed_out_of_range` */
export function checkedSeed(seed) {
  if (!Number.isSafeInteger(seed) || seed < 0) {
    throw new OutOfRangeError(
      "designs.seed_out_of_range",
      `Seed ${seed} is not a whole number from 0 to ${SEED_LIMIT - 1}; choose one that is.`,
      { seed: String(seed), limit: SEED_LIMIT - 1 },
    );
  }
  return seed;
}

/** A stream of fair choices that depends on the seed alone. */
export class Chance {
  /** @param {number} seed  A whole number from 0 to 2**53 - 1. */
  constructor(seed) {
    const [a, b, c, d] = stretched(BigInt(checkedSeed(seed)));
    this.step = ((((c << 64n) | d) << 1n) & MASK_128) | 1n;
    this.state = this.step; // the first step of the state 0
    this.state = (this.state + ((a << 64n) | b)) & MASK_128;
    this.advance();
  }

  advance() {
    this.state = (this.state * MULTIPLIER + this.step) & MASK_128;
  }

  /** The next raw word, 64 bits. @returns {bigint} */
  raw() {
    this.advance();
    const word = (this.state >> 64n) ^ (this.state & MASK_64);
    const turn = this.state >> 122n;
    return ((word >> turn) | (word << (64n - turn))) & MASK_64;
  }

  /**
   * A whole number from 0 to n - 1, each equally likely; raw words at or above the largest multiple of n are thrown away.
   * @param {number} n  1 or more. @returns {number}
   */
  below(n) {
    if (!Number.isSafeInteger(n) || n < 1) {
      throw new OutOfRangeError(
        "designs.choice_out_of_range",
        `Cannot choose one of ${n} things; there must be at least one.`,
        { n },
      );
    }
    const limit = WORDS - (WORDS % BigInt(n));
    for (;;) {
      const word = this.raw();
      if (word < limit) return Number(word % BigInt(n));
    }
  }

  /** The things in an order that is equally likely to be any of their orders. @template T @param {T[]} things @returns {T[]} */
  shuffled(things) {
    const order = [...things];
    for (let i = order.length - 1; i > 0; i -= 1) {
      const j = this.below(i + 1);
      [order[i], order[j]] = [order[j], order[i]];
    }
    return order;
  }
}

/** A seed from fresh random bytes. @param {Uint8Array} bytes  Seven. @returns {number} */
export function seedOf(bytes) {
  let seed = 0n;
  for (const byte of bytes) seed = (seed << 8n) | BigInt(byte);
  return Number(seed % BigInt(SEED_LIMIT));
}

/** A seed stretched to four 64-bit words: mixed into a pool of four 32-bit words, then drawn from it. @param {bigint} seed */
function stretched(seed) {
  const entropy = [seed & MASK_32, seed >> 32n];
  const hash = hasher(0x43b0d7e5n, 0x931e8875n);
  const pool = Array.from({ length: POOL }, (_, i) => hash(entropy[i] ?? 0n));
  for (let from = 0; from < POOL; from += 1)
    for (let to = 0; to < POOL; to += 1) if (from !== to) pool[to] = mixed(pool[to], hash(pool[from]));
  const draw = hasher(0x8b51f9ddn, 0x58f38dedn);
  const halves = Array.from({ length: 8 }, (_, i) => draw(pool[i % POOL]));
  return [0, 2, 4, 6].map((i) => halves[i] | (halves[i + 1] << 32n));
}

/** @param {bigint} start @param {bigint} by */
function hasher(start, by) {
  let constant = start;
  return (/** @type {bigint} */ value) => {
    const first = value ^ constant;
    constant = (constant * by) & MASK_32;
    const second = (first * constant) & MASK_32;
    return second ^ (second >> 16n);
  };
}

/** @param {bigint} x @param {bigint} y */
function mixed(x, y) {
  const value = (0xca01f9ddn * x - 0x4973f715n * y) & MASK_32;
  return value ^ (value >> 16n);
}
