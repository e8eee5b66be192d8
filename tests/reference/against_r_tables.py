"""Twenty-two simulated trials, one for each way of analysing, from fixed seeds: name -> columns."""

import numpy as np


def _rng(number):
    return np.random.default_rng(20260300 + number)


def _crossed(**levels):
    """Return columns of every combination, the last name fastest."""
    grid = np.meshgrid(*[np.arange(len(v)) for v in levels.values()], indexing="ij")
    return {
        name: [values[i] for i in g.ravel()]
        for (name, values), g in zip(levels.items(), grid, strict=True)
    }


def _blocks(n):
    return [f"b{i}" for i in range(1, n + 1)]


def _treatments(n):
    return [f"t{i}" for i in range(1, n + 1)]


def _shift(labels, rng, sd):
    effects = {x: rng.normal(0, sd) for x in sorted(set(labels))}
    return np.array([effects[x] for x in labels])


def _response(table, rng, sd=2.0, mean=30.0, effect=2.0):
    y = mean + rng.normal(0, sd, len(table["treatment"])) + _shift(table["treatment"], rng, effect)
    if "block" in table:
        y += _shift(table["block"], rng, 2.0)
    return y


def _without(table, rows):
    gone = set(rows)
    return {k: [x for i, x in enumerate(v) if i not in gone] for k, v in table.items()}


def tables():  # noqa: PLR0915  (one paragraph per trial)
    """Return all tables; text columns are factors, number columns are not."""
    out = {}

    rng = _rng(1)
    t = {"treatment": np.repeat(_treatments(5), 6).tolist()}
    out["crd"] = t | {"y": _response(t, rng)}

    rng = _rng(2)
    t = {"treatment": np.repeat(_treatments(4), [9, 5, 3, 6]).tolist()}
    out["crd_unbalanced"] = t | {"y": _response(t, rng)}

    rng = _rng(3)
    t = _crossed(block=_blocks(5), treatment=_treatments(6))
    out["rcbd"] = t | {"y": _response(t, rng)}

    rng = _rng(4)
    t = _crossed(block=_blocks(5), treatment=_treatments(6))
    out["rcbd_missing"] = _without(t | {"y": _response(t, rng)}, [1, 9, 22])

    rng = _rng(5)
    t = _crossed(block=_blocks(4), treatment=["t1", *_treatments(5)])
    out["rcbd_control_twice"] = t | {"y": _response(t, rng)}

    rng = _rng(6)
    square = [(r, c, (r + c) % 5) for r in range(5) for c in range(5)]
    t = {
        "row": [f"r{r}" for r, _, _ in square],
        "column": [f"c{c}" for _, c, _ in square],
        "treatment": [f"t{k + 1}" for _, _, k in square],
    }
    y = _response(t, rng) + _shift(t["row"], rng, 2) + _shift(t["column"], rng, 2)
    out["latin"] = t | {"y": y}
    out["latin_missing"] = _without(t | {"y": y + _rng(7).normal(0, 1, 25)}, [7])

    rng = _rng(8)
    t = _crossed(block=_blocks(4), whole=["w1", "w2", "w3"], sub=["s1", "s2", "s3", "s4"])
    places = [f"{b}{w}" for b, w in zip(t["block"], t["whole"], strict=True)]
    y = 50 + _shift(t["block"], rng, 3) + _shift(places, rng, 2) + _shift(t["sub"], rng, 2)
    out["split_plot"] = t | {"y": y + rng.normal(0, 1, len(y))}

    rng = _rng(9)
    t = _crossed(block=_blocks(4), a=["a1", "a2"], b=["x", "y", "z"])
    cells = [f"{a}{b}" for a, b in zip(t["a"], t["b"], strict=True)]
    y = 20 + _shift(t["block"], rng, 2) + _shift(cells, rng, 3) + rng.normal(0, 1, len(cells))
    out["factorial"] = t | {"y": y}
    out["factorial_unbalanced"] = _without(t | {"y": y + _rng(10).normal(0, 1, len(y))}, [0, 5, 13])

    rng = _rng(11)
    t = _crossed(block=_blocks(4), treatment=_treatments(5))
    before = rng.normal(12, 1.5, 20)
    out["covariate"] = t | {"height0": before, "y": _response(t, rng) + 1.3 * (before - 12)}

    rng = _rng(12)
    rates = {"t1": 0.0, "t2": 5.0, "t3": 10.0, "t4": 20.0, "t5": 40.0}
    t = _crossed(block=_blocks(5), treatment=_treatments(5))
    rate = np.array([rates[x] for x in t["treatment"]])
    y = 40 - 0.5 * rate + 0.006 * rate**2 + _shift(t["block"], rng, 2) + rng.normal(0, 2, 25)
    out["trend"] = t | {"rate": rate, "y": y}

    rng = _rng(13)
    t = _crossed(block=_blocks(6), treatment=_treatments(5))
    mu = np.exp(2 + _shift(t["block"], rng, 0.2) + _shift(t["treatment"], rng, 0.4))
    out["count"] = t | {"y": rng.negative_binomial(5, 5 / (5 + mu)).astype(float)}

    rng = _rng(14)
    t = _crossed(block=_blocks(6), treatment=_treatments(4))
    plants = rng.integers(4, 9, 24)
    mu = plants * np.exp(1 + _shift(t["block"], rng, 0.2) + _shift(t["treatment"], rng, 0.4))
    t |= {"plants": plants.astype(float), "y": rng.poisson(mu).astype(float)}
    out["count_plants_missing"] = _without(t, [3, 17])

    rng = _rng(15)
    t = _crossed(block=_blocks(5), treatment=_treatments(4))
    n = rng.integers(20, 40, 20)
    logit = 0.3 + _shift(t["block"], rng, 0.3) + _shift(t["treatment"], rng, 0.7)
    p = rng.beta(8 / (1 + np.exp(-logit)), 8 / (1 + np.exp(logit)))
    out["proportion"] = t | {"n": n.astype(float), "y": rng.binomial(n, p).astype(float)}

    rng = _rng(16)
    t = {"treatment": np.repeat(_treatments(4), [6, 5, 7, 6]).tolist()}
    spread = {"t1": 0.5, "t2": 1.0, "t3": 3.0, "t4": 5.0}
    y = _response(t, rng, sd=0) + np.array([spread[x] for x in t["treatment"]]) * rng.normal(
        0, 1, 24
    )
    out["games_howell"] = t | {"y": y}

    rng = _rng(17)
    t = _crossed(block=_blocks(4), treatment=_treatments(5))
    out["planned_contrasts"] = t | {"y": _response(t, rng)}

    rng = _rng(18)
    t = _crossed(block=_blocks(6), treatment=["t1", "t2", "t3", "t12"])
    y = np.exp(3 + 0.05 * _response(t, rng, mean=0))
    out["partners_log"] = t | {"y": np.log(y)}

    rng = _rng(19)
    t = _crossed(block=_blocks(5), treatment=_treatments(5))
    out["per_cent"] = t | {"y": _response(t, rng)}

    rng = _rng(20)
    t = {"treatment": np.repeat(_treatments(3), 6).tolist()}
    plots = _response(t, rng)
    course = np.cumsum(rng.normal(1, 1, (18, 4)), axis=1)
    out["over_time"] = t | {f"y{j + 1}": plots + course[:, j] for j in range(4)}

    rng = _rng(21)
    t = _crossed(block=_blocks(5), treatment=_treatments(4))
    out["one_sided"] = t | {"y": _response(t, rng)}

    rng = _rng(22)
    t = _crossed(plot=[f"p{i:02d}" for i in range(16)], plant=["1", "2", "3"])
    t["treatment"] = [f"t{int(p[1:]) % 4 + 1}" for p in t["plot"]]
    y = _response(t, rng, sd=1) + _shift(t["plot"], rng, 2)
    out["plants_in_plots"] = t | {"y": y}
    return out
