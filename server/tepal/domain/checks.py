"""Checks before mixing and on arrival: the same situation gives the same findings on both sides.

Twin: web/app/core/checks.js (to come with the functions).

  check_findings(situation) -> tuple[Finding, ...]

`situation` is one plain record; every part may be absent. Fields are those of the record kinds:
  application          as planned or done: lines, products with amounts, method, site, started_at
  products             {id: product fields}, the labels as copied now
  lots                 {id: lot fields}
  applications         fields of earlier applications of these lots; not void, not this one
  supplier_treatments  fields
  restrictions         fields of the restrictions on the places of this application; not void
  operator             {role, is_adult, ...} member fields; certificates: fields, of this person
  permit               fields of the trial authority that the order or application names, or null
  sprayer, calibrations   fields; calibrations of this sprayer
  batches              {id: fields}; stock: {product id: quantity on hand}
  water_due_at         moment of the next overhead watering, or null
  incompatible_pairs   fields
  establishment        fields: country, region, air window, ventilation_parts_add
  now                  moment; now_ms, heard_ms, skew_ms on server time, as in `restriction`
Severity: stop (label ceiling, crop or site, minimum interval, worker in a restricted area), caution
(house rules, answered with a reason), note ("not on file: read the label").
"""
