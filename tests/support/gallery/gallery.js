// Every piece of web/app/ui on pages like those an operator sees, for pictures and browser tests. Takes the place of
// app.js in a copy of web/app (tests/support/gallery_server.py); never part of the product.
// Names and numbers are made up for layout only.
import { render } from "preact";
import { useState } from "preact/hooks";
import { RecordForm } from "./forms/record-form.js";
import { typedOf, wireOf } from "./forms/typed.js";
import { loadWords } from "./locale/catalogues.js";
import { Answer } from "./ui/answer.js";
import { Button, GoButton } from "./ui/buttons.js";
import { ChoiceField, RefField, SeveralField, YesNoField } from "./ui/choices.js";
import { DateField, InstantField, NumberField, QuantityField, TextField } from "./ui/fields.js";
import { FootAct, Frame, Page } from "./ui/frame.js";
import { HouseTile, Houses } from "./ui/house-tile.js";
import { html } from "./ui/html.js";
import { ICON_NAMES, Icon } from "./ui/icons.js";
import { InstallAdvice } from "./ui/install-advice.js";
import { DayLanes } from "./ui/lanes.js";
import { MeasureWells, PlotBeds } from "./ui/measuring.js";
import { NewVersionBar } from "./ui/new-version.js";
import { NumberPad } from "./ui/number-pad.js";
import { Quantity } from "./ui/quantity.js";
import { Sheet } from "./ui/sheet.js";
import { Named, Stake } from "./ui/stake.js";
import { EmptyState, Message, StateChip } from "./ui/state.js";
import { Stem, StemStep } from "./ui/stem.js";
import { SyncLine } from "./ui/sync-line.js";
import { words } from "./ui/words.js";

const asked = new URLSearchParams(location.search);
document.documentElement.dataset.theme = asked.get("theme") ?? "light";
const language = asked.get("lang") ?? "en";
document.documentElement.lang = language;
const es = language === "es";
const HOUR = 3_600_000;

const tabs = [
  { href: "/today", label: es ? "Hoy" : "Today", icon: "house" },
  { href: "/lots", label: es ? "Lotes" : "Lots", icon: "lot" },
  { href: "/trials", label: es ? "Ensayos" : "Trials", icon: "trial", count: 2 },
  { href: "/emergency", label: es ? "Emergencia" : "Emergency", icon: "emergency" },
];
const rail = [
  ...tabs.slice(0, 1),
  { href: "/applications", label: es ? "Aplicaciones" : "Applications", icon: "book" },
  { href: "/orders", label: es ? "Órdenes de aspersión" : "Spray orders", icon: "sprayer", count: 3 },
  { href: "/trials", label: es ? "Ensayos" : "Trials", icon: "trial" },
  { href: "/lots", label: es ? "Lotes de cultivo" : "Crop lots", icon: "lot" },
  { href: "/products", label: es ? "Productos" : "Products", icon: "product" },
  { href: "/houses", label: es ? "Invernaderos y mesas" : "Houses and benches", icon: "house" },
  { href: "/people", label: es ? "Personas y teléfonos" : "People and phones", icon: "person" },
  { href: "/print", label: es ? "Imprimir" : "Print", icon: "print" },
];

const line = (unsent, phase = "idle", extra = {}) =>
  html`<${SyncLine} sync=${{ phase, unsent, oldestUnsentAt: null, conflicts: 0, ...extra }} nowMs=${0} heard="10:42" />`;
const frame = (path, top, foot, page) =>
  html`<${Frame} tabs=${tabs} rail=${rail} path=${path} top=${top} foot=${foot}>${page}<//>`;

function Today() {
  return frame(
    "/today",
    line(0),
    null,
    html`<${Page} title=${es ? "Hoy" : "Today"} under=${es ? "martes 12 de mayo · Rosa en este teléfono" : "Tuesday 12 May · Rosa on this phone"}>
      <section class="stack"><h2>${es ? "Restricciones" : "Restrictions"}</h2>
        <${Houses}>
          <${HouseTile} name=${es ? "Invernadero 1" : "House 1"} tone="passed" state=${es ? "sin restricción anotada" : "none on file"} lines=${[es ? "noticia 10:42" : "heard 10:42"]} onOpen=${() => {}} />
          <${HouseTile} name=${es ? "Invernadero 2" : "House 2"} tone="stopped" state=${es ? "mesas 4–6" : "benches 4–6"} lines=${[es ? "hasta 20:05 y letreros quitados" : "until 20:05 and signs down", "9 h 23 min"]} onOpen=${() => {}} />
          <${HouseTile} name=${es ? "Invernadero 3" : "House 3"} tone="caution" state=${es ? "en aplicación" : "being sprayed"} lines=${[es ? "desde 10:20, Dinh" : "since 10:20, Dinh"]} onOpen=${() => {}} />
          <${HouseTile} name=${es ? "Invernadero 4" : "House 4"} tone="passed" isStale=${true} state=${es ? "sin restricción anotada" : "none on file"} lines=${[es ? "noticia 07:10, vieja" : "heard 07:10, stale"]} onOpen=${() => {}} />
        <//>
        <p class="muted small">${es ? "Decide el letrero en la puerta." : "The sign on the door decides."}</p>
      </section>
      <section class="stack"><h2>${es ? "Por hacer" : "To do"}</h2>
        <a class="card" href="/apply"><span class="spread"><${Named} code="1·07" name="Lantana ‘Copperline’" /><span class="muted small">${es ? "antes de 11:00" : "before 11:00"}</span></span>
          <span><b>${es ? "Asperjar" : "Spray"}</b> ${es ? "altura, plantas de temporada" : "height, bedding"} · <${Quantity} value="5.2" unit="L" also=${{ value: "1.37", unit: "gal" }} /></span></a>
        <a class="card" href="/trials"><span class="spread"><${Named} code="T07" tone="plain" name=${es ? "Dosis en riego, salvia" : "Drench rates, salvia"} /><span class="muted small">${es ? "hasta el jueves" : "until Thursday"}</span></span>
          <span><b>${es ? "Medir" : "Measure"}</b> ${es ? "36 parcelas · altura, ancho, flores abiertas" : "36 plots · height, width, open flowers"}</span></a>
        <a class="card" href="/lots"><${Named} code="3·02" name="Pentas ‘Morning Tin’" />
          <span><${StateChip} tone="caution">${es ? "2.4 cm sobre la línea superior" : "2.4 cm above the upper line"}<//></span></a>
      </section>
    <//>`,
  );
}

function Apply() {
  const [open, setOpen] = useState(false);
  const rows = [
    [es ? "Agua" : "Water", es ? "medio tanque, agitar" : "half the tank, stir", "5.7", "L", "1.5", "gal"],
    ["1 Stemwright SL", es ? "cloruro de clormequat 900 mg/L" : "chlormequat chloride 900 mg/L", "85.6", "mL", "2.90", "fl oz"],
    ["2 Unicollar SL", es ? "uniconazol 1.5 mg/L" : "uniconazole 1.5 mg/L", "31.1", "mL", "1.05", "fl oz"],
    [es ? "Agua, hasta" : "Water, up to", es ? "volumen final de esta carga" : "final volume of this load", "11.4", "L", "3.0", "gal"],
  ];
  return frame(
    "/apply",
    line(3, "offline"),
    html`<${FootAct} ppe=${es ? "Mezclar: guantes, protección ocular, delantal. La etiqueta es la ley." : "Mixing: gloves, eyewear, apron. Label is the law."}>
      <${GoButton}>${es ? "La carga 1 está mezclada" : "Load 1 is mixed"}<//><//>`,
    html`<${Page} isReading=${true} title=${es ? "Aplicar" : "Apply"} actions=${html`<${Button} kind="emergency" href="/emergency" icon="emergency">${es ? "Emergencia" : "Emergency"}<//>`}>
      <${Stem}>
        <${StemStep} title=${es ? "Dónde" : "Where"} state="done" onToggle=${() => setOpen(!open)} isOpen=${open}
          summary=${html`<b>${es ? "Invernadero 2, mesas 4 a 6" : "House 2, benches 4 to 6"}</b> · ${es ? "3 lotes" : "3 lots"} · <${Quantity} value="114" unit="m²" also=${{ value: "1227", unit: "ft²" }} />`}>
          <p>${es ? "Abierto otra vez" : "Opened again"}</p><//>
        <${StemStep} title=${es ? "Mezcla" : "Mix"} state="done" onToggle=${() => {}}
          summary=${html`<b>${es ? "Altura, plantas de temporada, segunda semana" : "Height, bedding, second week"}</b> · ${es ? "aspersión" : "spray"} <${Quantity} value="22.8" unit="L" also=${{ value: "6.0", unit: "gal" }} />`} />
        <${StemStep} title=${es ? "Revisado" : "Checked"} state="done" onToggle=${() => {}}
          summary=${html`${es ? "9 aprobadas · 1 respondida:" : "9 passed · 1 answered:"} <b>${es ? "riego por arriba pasa a mañana" : "overhead water moved to tomorrow"}</b>`} />
        <${StemStep} title=${es ? "Medir" : "Measure"} detail=${es ? "carga 1 de 2" : "load 1 of 2"} state="current">
          <div class="list">${rows.map(
            ([name, detail, value, unit, alsoValue, alsoUnit]) => html`<div class="list-row"><div><h3>${name}</h3><p class="muted small">${detail}</p></div>
              <${Quantity} size="amount" value=${value} unit=${unit} also=${{ value: alsoValue, unit: alsoUnit }} /></div>`,
          )}</div>
        <//>
        <${StemStep} title=${es ? "Aplicar" : "Spray"} state="ahead" />
        <${StemStep} title=${es ? "Firmar" : "Sign"} state="ahead" />
      <//>
    <//>`,
  );
}

function Measure() {
  const [text, setText] = useState("14.6");
  const fields = es ? ["Altura", "Ancho 1", "Ancho 2", "Flores"] : ["Height", "Width 1", "Width 2", "Flowers"];
  return frame(
    "/trials",
    line(61, "idle"),
    html`<${NumberPad} text=${text} onText=${setText} decimalSign="." maxDecimals=${1} nextLabel=${es ? "Siguiente" : "Next"} onNext=${() => setText("")} canNext=${text !== ""}
      apart=${[{ label: es ? "Deshacer" : "Undo", onPress: () => {} }, { label: es ? "Muerta" : "Dead", onPress: () => {} }, { label: es ? "Sin medir" : "Not measured", onPress: () => {} }]} />`,
    html`<div class="page">
      <h1 class="visually-hidden">${es ? "Medir" : "Measure"}</h1>
      <div class="spread"><${Named} code="305" tone="mine" name=${es ? "bloque 3, parcela 5 · planta 2 de 3" : "block 3, plot 5 · plant 2 of 3"} /><span class="muted small">${es ? "parcela 17 de 36" : "plot 17 of 36"}</span></div>
      <div class="spread"><h2>${fields[0]}</h2><span class="muted">${es ? "del borde de la maceta a la hoja más alta" : "pot rim to highest leaf"}</span></div>
      <${Quantity} size="giant" value=${text || null} unit="cm" />
      <p class="muted small">${es ? "Los valores anteriores se ven después de «Siguiente», no antes." : "Earlier values show after “Next”, not before."}</p>
      <${MeasureWells} wells=${fields.map((name, at) => ({ label: name, text: at === 0 ? text : "", isCurrent: at === 0, onOpen: () => {} }))} />
      <${PlotBeds} label=${es ? "16 de 36 parcelas medidas" : "16 of 36 plots measured"} blocks=${[0, 1, 2, 3, 4, 5].map((block) => [0, 1, 2, 3, 4, 5].map((plot) => (block * 6 + plot === 4 ? "lost" : block * 6 + plot < 16 ? "done" : block * 6 + plot === 16 ? "current" : "ahead")))} />
    </div>`,
  );
}

function Fields() {
  const [choice, setChoice] = useState("spray");
  const [several, setSeveral] = useState(["eyes"]);
  const [answer, setAnswer] = useState(null);
  const [amount, setAmount] = useState({ value: "1,200", unit: "mL" });
  const [lot, setLot] = useState("b");
  const [given, setGiven] = useState({ value: "go", reason: "" });
  const [name, setName] = useState("");
  const lots = ["Lantana ‘Copperline’", "Pentas ‘Morning Tin’", "Salvia ‘Long Field’", "Petunia ‘Slate’", "Angelonia ‘Weir’", "Coleus ‘Ember’", "Zinnia ‘Quay’"].map(
    (variety, at) => ({ id: "abcdefg"[at], name: variety, code: `${at + 1}·0${at + 2}`, detail: es ? "en flor" : "in flower" }),
  );
  return frame(
    "/apply",
    line(2, "idle", { oldestUnsentAt: -30 * HOUR }),
    html`<${FootAct}><${GoButton} isOff=${true}>${es ? "Falta responder 1 aviso" : "1 caution waits for an answer"}<//><//>`,
    html`<${Page} isReading=${true} title=${es ? "Controles" : "Controls"}>
      <${TextField} label=${es ? "Nombre" : "Name"} hint=${es ? "Como en el certificado" : "As on the certificate"} value=${name} onValue=${setName} />
      <${QuantityField} label=${es ? "Volumen aplicado" : "Volume applied"} value=${amount} onValue=${setAmount} units=${[{ code: "mL", label: "mL" }, { code: "L", label: "L" }, { code: "[foz_us]", label: "fl oz" }]}
        error=${es ? "1,200 puede ser 1.2 o 1200 mL. Escríbalo sin separador." : "1,200 can mean 1.2 or 1200 mL. Type it without a separator."} />
      <${QuantityField} label=${es ? "Área" : "Area"} value=${{ value: "114", unit: "m2" }} onValue=${() => {}} units=${[{ code: "m2", label: "m²" }]} also="1227 ft²" />
      <${NumberField} label=${es ? "Plantas" : "Plants"} value="36" onValue=${() => {}} isWhole=${true} isOptional=${true} />
      <${ChoiceField} label=${es ? "Método" : "Method"} value=${choice} onValue=${setChoice} choices=${[
        { value: "spray", label: es ? "Aspersión" : "Spray", detail: es ? "hojas mojadas, sin escurrir" : "leaves wet, no runoff" },
        { value: "drench", label: es ? "Riego al sustrato" : "Drench" },
        { value: "dip", label: es ? "Inmersión de esquejes" : "Liner dip" },
      ]} />
      <${SeveralField} label=${es ? "Equipo de protección" : "PPE worn"} values=${several} onValues=${setSeveral} choices=${[
        { value: "gloves", label: es ? "Guantes resistentes a químicos" : "Chemical-resistant gloves" },
        { value: "eyes", label: es ? "Protección ocular" : "Protective eyewear" },
      ]} />
      <${YesNoField} label=${es ? "¿Letreros puestos?" : "Signs up?"} value=${answer} onValue=${setAnswer} />
      <div class="two-inputs"><${DateField} label=${es ? "Día" : "Day"} value="2026-05-12" onValue=${() => {}} />
        <${InstantField} label=${es ? "Fin" : "End"} value="2026-05-12T08:05" onValue=${() => {}} now=${() => "2026-05-12T10:42"} /></div>
      <${RefField} label=${es ? "Lote" : "Lot"} value=${lot} onValue=${setLot} options=${lots} />
      <h2>${es ? "Avisos" : "Cautions"}</h2>
      <${Answer} tone="caution" title=${es ? "La mesa 5 se roció hace 3 horas" : "Bench 5 was sprayed 3 hours ago"} source=${es ? "Regla de la casa" : "House rule"} given=${given} onAnswer=${setGiven}
        choices=${[{ value: "wait", label: es ? "Espero" : "I wait" }, { value: "go", label: es ? "Sigo, con motivo" : "I go on, with a reason", needsReason: true }]}>
        ${es ? "El producto anterior pide guantes hasta las 20:05." : "The earlier product asks for gloves until 20:05."}<//>
      <${Answer} tone="stopped" title=${es ? "La etiqueta no permite este cultivo" : "The label does not allow this crop"} source=${es ? "Etiqueta, sección 4, copiada 2 de marzo" : "Label, section 4, copied 2 March"} given=${{ value: null, reason: "" }} onAnswer=${() => {}} choices=${[]}>
        ${es ? "Elija otro producto o pregunte al cultivador." : "Choose another product or ask the grower."}<//>
    <//>`,
  );
}

function Pieces() {
  const [isOpen, setOpen] = useState(asked.has("sheet"));
  return frame(
    "/lots",
    html`<${NewVersionBar} onTake=${() => {}} />${line(3, "exchanging")}${line(3, "error")}${line(0, "idle", { conflicts: 1 })}${line(4, "offline", { oldestUnsentAt: -80 * HOUR })}`,
    null,
    html`<${Page} title=${es ? "Piezas" : "Pieces"} under=${es ? "Todo lo demás" : "Everything else"} actions=${html`<${Button} onPress=${() => setOpen(true)}>${es ? "Abrir hoja" : "Open sheet"}<//>`}>
      <div class="row"><${Stake} code="2·04" /><${Stake} code="T07" tone="passed" /><${Stake} code="12" tone="stopped" /><${Stake} code="305" tone="mine" /><${Stake} code="5" tone="waiting" /></div>
      <div class="row"><${StateChip} tone="passed">${es ? "completo" : "complete"}<//><${StateChip} tone="caution">${es ? "faltan 2 datos" : "2 fields missing"}<//><${StateChip} tone="stopped">${es ? "mesas 4–6 hasta 20:05, letreros" : "benches 4–6 until 20:05, signs"}<//><${StateChip} tone="waiting">${es ? "enmendado" : "amended"}<//><${StateChip} tone="plain">${es ? "borrador" : "draft"}<//></div>
      <div class="row"><${Button}>${es ? "Decidir" : "Decide"}<//><${Button} icon="camera">${es ? "Foto" : "Photo"}<//><${Button} kind="danger">${es ? "Anular" : "Void"}<//><${Button} kind="quiet">${es ? "Más tarde" : "Later"}<//></div>
      <${Message} tone="passed" title=${es ? "Guardado en este teléfono" : "Saved on this phone"}><p>${es ? "Se enviará cuando haya señal." : "It goes to the office when there is signal."}</p><//>
      <${Message} tone="stopped" title=${es ? "No se guardó" : "Not saved"}><p>${es ? "La memoria del teléfono está llena." : "The phone's storage is full."}</p><${Button}>${es ? "Guardar en un archivo" : "Save to a file"}<//><//>
      <${InstallAdvice} kind="ios" isInstalled=${false} />
      <${InstallAdvice} kind="android" isInstalled=${false} onInstall=${() => {}} />
      <div class="said"><p>${es ? "La altura bajó con la dosis. A 1 mg/L las plantas fueron" : "Height fell steadily with the rate. At 1 mg/L plants were"} <b>15 % ${es ? "más bajas" : "shorter"}</b>.</p></div>
      <${EmptyState} icon="trial" title=${es ? "Ningún ensayo todavía" : "No trial yet"}><p>${es ? "Una orden de aspersión con bandejas sin tratar ya es uno." : "A spray order with untreated trays already is one."}</p><${Button}>${es ? "Planear un ensayo" : "Plan a trial"}<//><//>
      <div class="row">${ICON_NAMES.map((name) => html`<span class="small muted"><${Icon} name=${name} label=${name} /></span>`)}</div>
      ${isOpen && html`<${Sheet} title=${es ? "Dos valores para un volumen" : "Two values for one amount"} onClose=${() => setOpen(false)}><p>3·05: Rosa <${Quantity} value="1.05" unit="L" />, Dinh <${Quantity} value="1.5" unit="L" /></p><${GoButton}>${es ? "Tomar 1.05 L" : "Take 1.05 L"}<//><//>`}
    <//>`,
  );
}

function Office() {
  const chip = (tone, text, icon) => html`<${StateChip} tone=${tone} icon=${icon}>${text}<//>`;
  return frame(
    "/today",
    line(0),
    null,
    html`<${Page} title=${es ? "martes 12 de mayo" : "Tuesday 12 May"} under=${es ? "4 teléfonos, todos oídos desde 12:30" : "4 phones, all heard since 12:30"} actions=${html`<span><${GoButton}>${es ? "Planear una orden" : "Plan a spray order"}<//></span>`}>
      <section class="card"><h2>${es ? "Invernaderos en el día" : "Houses through the day"}</h2>
        <${DayLanes} nowHour=${12.8} lanes=${[
          { name: es ? "Invernadero 1" : "House 1", state: chip("passed", es ? "sin anotar" : "none on file", "note"), blocks: [{ from: 16.5, to: 18.5, kind: "planned", label: es ? "orden" : "order" }] },
          { name: es ? "Invernadero 2" : "House 2", state: chip("stopped", es ? "mesas 4–6 hasta 20:05" : "benches 4–6 until 20:05"), blocks: [{ from: 7.1, to: 8.1, kind: "act" }, { from: 8.1, to: 20.1, kind: "restricted", label: es ? "12 h tras el final" : "12 h after the end" }] },
          { name: es ? "Invernadero 3" : "House 3", state: chip("caution", es ? "en aplicación" : "being sprayed", "sprayer"), blocks: [{ from: 9.1, to: 9.7, kind: "act" }, { from: 9.7, to: 24, kind: "restricted", label: es ? "12 h" : "12 h, longest of the mix" }] },
        ]} /></section>
      <div class="page-columns">
        <section class="stack"><h2>${es ? "Aplicado hoy" : "Applied today"}</h2><div class="table-frame"><table class="table"><thead><tr>${(es ? ["Fin", "Dónde", "Mezcla", "Volumen", "Por", "Registro"] : ["End", "Where", "Mix", "Volume", "By", "Record"]).map((name) => html`<th scope="col">${name}</th>`)}</tr></thead>
          <tbody>${[["08:05", "2·04", "Pentas + 2", es ? "Altura, temporada" : "Height, bedding", "22.8", "Rosa M.", chip("passed", es ? "completo" : "complete")], ["09:40", "3·02", "Pentas", "Uniconazole 2 mg/L", "4.1", "Dinh T.", chip("caution", es ? "faltan 2 datos" : "2 fields missing")], ["11:55", "3·05", "Salvia", es ? "Riego 1 mg/L" : "Drench 1 mg/L", "36", "Dinh T.", chip("waiting", es ? "enmendado" : "amended")]].map(
            ([end, code, name, mix, litres, by, record]) => html`<tr><td class="q">${end}</td><td><${Named} code=${code} name=${name} /></td><td>${mix}</td><td><${Quantity} value=${litres} unit="L" /></td><td>${by}</td><td>${record}</td></tr>`,
          )}</tbody></table></div></section>
        <section class="stack"><h2>${es ? "Le espera" : "Needs you"}</h2>
          <div class="card"><div class="spread"><h3>${es ? "Dos valores para un volumen" : "Two values for one amount"}</h3><${Button}>${es ? "Decidir" : "Decide"}<//></div><p class="muted small">3·05: Rosa <${Quantity} value="1.05" unit="L" />, Dinh <${Quantity} value="1.5" unit="L" /></p></div>
          <div class="card"><div class="spread"><h3>${es ? "Rociador 2, calibración vencida" : "Sprayer 2, calibration due"}</h3><${Button}>${es ? "Ver" : "See"}<//></div><p class="muted small">${es ? "última 11 de marzo" : "last 11 March"}</p></div>
        </section>
      </div>
    <//>`,
  );
}

const WAYS = {
  numberFormat: { decimal: es ? "," : ".", thousands: "" },
  unitSystem: "metric",
  zoneAt: () => ({ offset_min: -240, zone: "America/New_York" }),
};

/** One kind's whole form, empty or with something in it, and what it would save. */
function Form() {
  const kind = asked.get("kind") ?? "product";
  const specs = forms.kinds[kind].fields;
  const [typed, setTyped] = useState(() => typedOf(specs, JSON.parse(asked.get("values") ?? "{}"), WAYS));
  const [result, setResult] = useState({ values: {}, problems: {}, missing: [] });
  const options = (ref) =>
    ["a", "b"].map((letter, at) => ({ id: `0190f3a0-0000-7000-8000-00000000000${at}`, name: `${ref} ${letter}`, code: `${at + 1}` }));
  return frame(
    "/products",
    line(0),
    html`<${FootAct}><${GoButton} onPress=${() => setResult(wireOf(specs, typed, WAYS))}>${es ? "Guardar" : "Save"}<//><//>`,
    html`<${Page} isReading=${true} title=${kind}>
      <${RecordForm} kind=${kind} specs=${specs} typed=${typed} onTyped=${setTyped}
        setting=${{ ways: WAYS, problems: result.problems, missing: result.missing, options, now: () => "2026-05-12T10:42" }} />
      <output hidden id="saved">${JSON.stringify(result.values)}</output>
    <//>`,
  );
}

const PAGES = { "/form": Form, "/": Today, "/today": Today, "/apply": Apply, "/measure": Measure, "/fields": Fields, "/pieces": Pieces, "/office": Office };
const getJson = async (url) => (await fetch(url)).json();
words.value = await loadWords(language, getJson);
const forms = await getJson("/api/v1/forms");
const root = document.getElementById("app");
root.replaceChildren();
render(html`<${PAGES[location.pathname] ?? Today} />`, root);
root.dataset.ready = "true";
