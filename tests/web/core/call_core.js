// Calls functions of web/app/core by their Python name, for tests in Node and in a page alike.
// No node: imports here; the caller says where the core lies and hands over the cases.

/** Python's snake_case name in JS: stock_volume_ml -> stockVolumeMl. */
export function camel(name) {
  return name.replace(/_([a-z0-9])/g, (_, letter) => letter.toUpperCase());
}

/** What JSON can carry: Maps as objects, class instances as their fields. */
export function plain(value) {
  if (value instanceof Map) return Object.fromEntries([...value].map(([k, v]) => [k, plain(v)]));
  if (Array.isArray(value)) return value.map(plain);
  if (typeof value === "object" && value !== null) {
    return Object.fromEntries(Object.entries(value).map(([k, v]) => [k, plain(v)]));
  }
  return value === undefined ? null : value;
}

/** Arguments that are Maps in JS and plain mappings in Python. */
const MAP_ARGUMENTS = new Set(["season"]);

export class Core {
  /**
   * @param {string} base URL of web/app/core/, with the slash
   * @param {string[]} names module names without .js
   */
  static async load(base, names) {
    const modules = {};
    for (const name of names) modules[name] = await import(`${base}${name}.js`);
    return new Core(modules);
  }

  constructor(modules) {
    this.modules = modules;
    this.TepalError = modules.errors.TepalError;
  }

  publicNames() {
    return Object.fromEntries(
      Object.entries(this.modules).map(([name, module]) => [name, Object.keys(module).sort()]),
    );
  }

  /** Run one case; an unknown function is an error of the test, not a result. */
  call(name, args) {
    const [module, member] = name.split(".");
    const run = this.modules[module]?.[camel(member)];
    if (typeof run !== "function") throw new Error(`no function ${name} in web/app/core`);
    const values = Object.entries(args).map(([key, value]) =>
      MAP_ARGUMENTS.has(key) && value !== null ? new Map(Object.entries(value)) : value,
    );
    try {
      return { value: plain(run(...values)) };
    } catch (error) {
      if (error instanceof this.TepalError) return { error: error.code, context: plain(error.context) };
      throw error;
    }
  }

  /** A program is a list of [function, {argument}]; an argument {"$": n} is the result of step n. */
  program(steps) {
    const results = [];
    for (const [name, args] of steps) {
      const filled = Object.fromEntries(
        Object.entries(args).map(([key, value]) => {
          if (value?.$ === undefined) return [key, value];
          const result = results[value.$];
          return [key, value.field === undefined ? result : result[value.field]];
        }),
      );
      const result = this.call(name, filled);
      if (result.error !== undefined) return result;
      results.push(result.value);
    }
    return { value: results[results.length - 1] };
  }

  /** @param {Array<{function?: string, args?: object, program?: Array}>} cases */
  run(cases) {
    return cases.map((one) => (one.program ? this.program(one.program) : this.call(one.function, one.args)));
  }
}
