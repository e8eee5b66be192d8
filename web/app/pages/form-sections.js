// The sections of the long forms: what belongs together on a label, and what one wants to know of the nursery.

/** @typedef {{ title: string, fields: string[] }} Section */

/** @type {Section[]} */
export const PRODUCT_SECTIONS = [
  {
    title: "register.section.identity",
    fields: ["name", "kind", "registration_number", "country", "region", "label_on", "maker_phone"],
  },
  {
    title: "register.section.content",
    fields: ["ingredients", "physical_form", "formulation_type", "density"],
  },
  {
    title: "register.section.protection",
    fields: ["signal_word", "ppe_mixing", "ppe_applying", "respirator", "first_aid", "restricted_use"],
  },
  { title: "register.section.entry", fields: ["rei", "double_notice", "early_entry_ppe"] },
  { title: "register.section.uses", fields: ["uses", "hours_limited", "stage_limited", "water_wait"] },
  {
    title: "register.section.mixing",
    fields: ["tank_mixing", "tank_mix_partners", "adjuvants", "use_within", "water_ph_min", "water_ph_max"],
  },
  { title: "register.section.stock", fields: ["low_stock"] },
];

/** @type {Section[]} */
export const LOT_SECTIONS = [
  { title: "register.section.lot", fields: ["code", "crop", "cultivar", "crop_eppo"] },
  {
    title: "register.section.stands",
    fields: ["stage", "bbch", "n_containers", "container", "plants_per_container", "benches"],
  },
  { title: "register.section.origin", fields: ["started_on", "supplier", "from_lots", "phase"] },
  {
    title: "register.section.height",
    fields: ["growth_start_on", "start_height", "finish_on", "finish_height", "height_tolerance"],
  },
];

/** @type {Section[]} */
export const ESTABLISHMENT_SECTIONS = [
  { title: "register.section.nursery", fields: ["name", "address", "country", "region"] },
  {
    title: "register.section.contacts",
    fields: ["medical_facility", "pesticide_agency", "poison_line", "eyewash", "spill"],
  },
  {
    title: "register.section.rules",
    fields: ["standards", "keep_years", "whole_house", "ventilation_parts_add"],
  },
  {
    title: "register.section.air",
    fields: ["air_temperature_min", "air_temperature_max", "air_humidity_min", "air_humidity_max"],
  },
  {
    title: "register.section.writing",
    fields: ["zone", "number_format", "unit_system", "paper", "currency"],
  },
];
