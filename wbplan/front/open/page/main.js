// The page: it holds what the server said last, shows it, and asks for what people do.

import { sayDecision, showDecision } from "./decision.js";
import { draw, make, makeId, readNumber } from "./parts.js";
import { change, drop, forget, isIdle, look } from "./server.js";
import { Sheet } from "./sheet.js";

const get = (id) => document.getElementById(id);
const narrow = matchMedia("(max-width: 46rem)");
const PATIENCE_MS = 1500;
let state = null;
let at = 0;
let choices = { cameras: [], filters: [], lamps: [] };
let spoken = 0;
let mapShown = "";
let runningShape = "";
let runningUpdates = [];

const sheet = new Sheet(
  get("sheet"),
  (edit, group, failed, done) => ask("/edit", { edit }, group, failed, done),
  (said) => {
    tell(said, "", [["Undo", actions.undo]]);
    get("notice").querySelector("button").focus();
  },
  () => choices,
);

function take(status, said, path) {
  if (said.decided) state = said;
  if (status === 409) forget();
  if (status === 200) {
    if (get("notice").dataset.kind !== "file") tell("");
  } else if (status === 409 && said.decided && path === "/keep" && said.trouble.includes("disk")) {
    tell(`${said.trouble}.`, "stale", [
      ["Save over it", () => ask("/keep", { over: true })],
      ["Take the file", () => ask("/reload", {})],
    ]);
  } else if (status === 409) {
    tell(`Your change was not made: ${said.trouble}. What stands now is shown.`, "conflict");
  } else tell(said.found ? `Not done: found ${said.found}; allowed: ${said.allowed}` : `Not done: ${said.trouble}`, "refused");
  show();
}

function ask(path, body, group = "", failed = null, done = null) {
  const answer = (status, said) => {
    take(status, said, path);
    done?.(status, said);
  };
  change(path, () => ({ version: state.version, ...body }), answer, group, failed);
}

function tell(text, kind = "", actions = []) {
  const home = get("notice");
  home.dataset.kind = kind;
  home.replaceChildren();
  if (!text) return;
  const lines = Array.isArray(text) ? text : [text];
  home.append(
    ...lines.map((line) => make("p", {}, line)),
    ...actions.map(([said, act]) => make("button", { onclick: () => { tell(""); act(); } }, said)),
    make("button", { class: "close", onclick: () => tell("") }, "Close"),
  );
}

const actions = {
  undo: () => ask("/undo", {}),
  redo: () => ask("/redo", {}),
  keep: () => ask("/keep", {}),
  plan: () => plan(false),
};

function plan(over) {
  tell("Planning: pages, record and LUTs ...", "file");
  change("/plan", () => ({ version: state.version, over }), (status, said) => {
    if (status !== 200) return take(status, said, "/plan");
    if (said.is_there) {
      return tell(`The folder ${said.folder} holds files already.`, "file", [["Replace the plan in it", () => plan(true)]]);
    }
    tell(`${said.files.length} files are in ${said.folder}.`, "file");
    get("notice").prepend(make("p", {}, make("a", { href: "/plan/report.html", target: "_blank", rel: "noopener" }, "Open the report")));
  });
}

// Setup, camera, exposure.

const FIELDS = [
  ["ei", "EI", ""],
  ["fps", "fps", ""],
  ["shutter_angle_deg", "shutter, degrees", ""],
  ["t_stop", "wanted T-stop", ""],
  ["nd_stops", "ND on the camera, stops", ""],
];

function showRunning() {
  const setup = state.setups[at];
  const shape = JSON.stringify([at, state.may_edit, state.setups.map((each) => each.name), setup.beside, choices.cameras.length]);
  if (shape !== runningShape) {
    runningShape = shape;
    runningUpdates = [];
    get("running").replaceChildren(...buildRunning(setup));
  }
  for (const update of runningUpdates) update(state.setups[at]);
}

function buildRunning(setup) {
  const may = state.may_edit;
  const parts = [];
  if (state.setups.length > 1) {
    const box = make("fieldset", { class: "setups" }, make("legend", {}, "Setup"));
    state.setups.forEach((each, row) => {
      const radio = make("input", { type: "radio", name: "setup", checked: row === at, onchange: () => { at = row; show(); } });
      box.append(make("label", {}, radio, ` ${each.name}`));
    });
    parts.push(box);
  }
  const list = makeId("cameras");
  const camera = make("input", { type: "text", list, "aria-label": "camera", disabled: !may });
  camera.addEventListener("change", () => ask("/edit", { edit: { do: "camera", setup: at, camera: camera.value.trim() } }));
  runningUpdates.push((now) => { if (document.activeElement !== camera) camera.value = now.camera; });
  const names = make("datalist", { id: list });
  for (const each of choices.cameras) names.append(make("option", { value: each }));
  const row = make("div", { class: "row" }, make("label", {}, make("span", {}, "camera"), camera), names);
  for (const [field, label] of FIELDS) {
    const input = make("input", { type: "text", inputmode: "decimal", disabled: !may, "data-at": field });
    const was = make("small", { class: "was" });
    input.addEventListener("change", () => {
      const text = input.value.trim();
      const value = text === "" ? null : readNumber(text);
      if (Number.isNaN(value)) return tell(`Not done: ${label} takes a figure`, "refused");
      ask("/edit", { edit: { do: "shooting", setup: at, field, value } });
    });
    runningUpdates.push((now) => {
      const { now: value, kept } = now.shooting[field];
      if (document.activeElement !== input) input.value = value;
      input.classList.toggle("whatif", value !== kept);
      was.textContent = value !== kept ? `was ${kept || "empty"}` : "";
    });
    row.append(make("label", {}, make("span", {}, label), input, was));
  }
  parts.push(row);
  const beside = make("div", { class: "row beside" });
  setup.beside.forEach((each, number) => {
    const rest = setup.beside.filter((_, other) => other !== number);
    beside.append(make("button", { class: "tag", disabled: !may, "aria-label": `take the camera ${each} away`, onclick: () => ask("/edit", { edit: { do: "beside", setup: at, cameras: rest } }) }, `${each} ✕`));
  });
  if (may) {
    const more = make("input", { type: "text", list, "aria-label": "a further camera beside it", placeholder: "camera beside" });
    more.addEventListener("change", () => {
      if (more.value.trim()) ask("/edit", { edit: { do: "beside", setup: at, cameras: [...setup.beside, more.value.trim()] } });
    });
    beside.append(more);
  }
  parts.push(beside);
  return parts;
}

// What follows: words, warnings, the map.

const ASSUMED = {
  camera: "the camera",
  key: "the key",
  shooting: "frame rate and shutter",
  lux: "lux that no reading states",
  invented: "This is marked as invented data.",
};

/** Offer the filter that helps the key most, to be tried. */
function offerRemedy(setup) {
  const light = state.setups[at].lights.find((each) => each.name === setup.remedy?.light);
  if (!state.may_edit || !light || light.other_filter) return null;
  const edit = { do: "filters", setup: at, light: light.name, filters: [...light.filters, setup.remedy.filter] };
  return make("button", { onclick: () => ask("/edit", { edit }) }, "Try it");
}

/** Ask whether what stands in is right. */
function askVouching() {
  if (!state.may_edit) return [];
  const words = [...state.assumed, ...(state.invented ? ["invented"] : [])];
  return words.map((word) =>
    make("p", {}, word === "invented" ? ASSUMED.invented : `Nobody said ${ASSUMED[word] ?? word}: what stands there stands in. `, " ",
      make("button", { onclick: () => ask("/edit", { edit: { do: "vouch", setup: at, word } }) },
        word === "invented" ? "It was measured" : "It is right")));
}

function showFindings() {
  const setup = state.decided[at];
  const home = get("findings");
  const list = (items) => make("ul", {}, ...items.map((each) => make("li", {}, each)));
  const figure = make("figure", { class: "map" });
  if (setup.map && setup.map === mapShown) figure.append(...(home.querySelector("figure.map")?.childNodes ?? []));
  else if (setup.map) figure.append(draw(setup.map));
  mapShown = setup.map;
  const open = home.querySelector("details")?.open;
  home.replaceChildren(
    make("div", { class: "words" },
      make("h2", {}, "What it does"),
      make("p", {}, `Set ${setup.solved}.`),
      make("p", { class: "soft" }, `Exact ${setup.exact}${setup.band ? `; ${setup.band}` : ""}.`),
      setup.verdict ? make("p", { class: "verdict" }, `${setup.verdict}. `, offerRemedy(setup)) : null,
      ...askVouching(),
      ...setup.beside.map((each) => make("p", {}, make("b", {}, each.name), ` set ${each.dial}; furthest apart ${each.worst}`)),
      setup.warnings.length ? make("div", { id: "warnings", class: "alert" }, make("strong", {}, "Warnings"), list(setup.warnings)) : null,
      setup.cautions.length ? make("details", { open }, make("summary", {}, "Cautions"), list(setup.cautions), make("p", {}, setup.deference)) : null,
    ),
    setup.map ? figure : null,
  );
}

function show() {
  if (!state) return;
  at = Math.min(at, state.setups.length - 1);
  document.title = `${state.kept ? "" : "* "}${state.title} · wbplan`;
  showDecision(get("decision"), state, at, actions);
  showRunning();
  sheet.show(state, at, narrow.matches);
  showFindings();
  document.body.dataset.version = state.version;
  clearTimeout(spoken);
  spoken = setTimeout(() => {
    const said = sayDecision(state.decided[at]);
    if (get("spoken").textContent !== said) get("spoken").textContent = said;
  }, 700);
}

async function follow() {
  if (isIdle() && !document.hidden && state) {
    const { status, said } = await look(`/state?since=${state.version}${state.stale ? "*" : ""}`);
    if (status === 0) tell(said.trouble, "gone");
    else if (status === 200 && !said.same && isIdle() && said.version >= state.version) {
      const fresh = said.stale && !state.stale;
      if (get("notice").dataset.kind === "gone") tell("");
      state = said;
      show();
      if (fresh && state.may_edit) {
        tell(`${state.file} was changed on the disk by another program.`, "stale", [["Take the file", () => ask("/reload", {})]]);
      }
    } else if (status === 200 && get("notice").dataset.kind === "gone") tell("");
  }
  setTimeout(follow, PATIENCE_MS);
}

function hand(files, place = "") {
  const lines = [];
  for (const file of files) {
    drop(
      () => ({ version: state.version, name: file.name, setup: at, place: place || state.setups[at].key }),
      file,
      (status, said) => {
        if (status === 200) lines.push(...said.remarks);
        else lines.push(`${file.name} is refused: ${said.found ? `found ${said.found}; allowed: ${said.allowed}` : said.trouble}`);
        if (said.decided) state = said;
        show();
        tell(lines, "file");
      },
    );
  }
}

document.addEventListener("dragover", (event) => { event.preventDefault(); document.body.classList.add("over"); });
document.addEventListener("dragleave", (event) => { if (!event.relatedTarget) document.body.classList.remove("over"); });
document.addEventListener("drop", (event) => {
  event.preventDefault();
  document.body.classList.remove("over");
  if (state?.may_edit && event.dataTransfer.files.length) hand([...event.dataTransfer.files]);
});
document.addEventListener("change", (event) => {
  if (event.target.dataset?.files !== undefined) { hand([...event.target.files]); event.target.value = ""; }
});
document.addEventListener("keydown", (event) => {
  if (!(event.ctrlKey || event.metaKey) || !state?.may_edit) return;
  const typing = event.target.matches?.("input[type=text]") && event.target.value !== (event.target.dataset.now ?? event.target.value);
  const key = event.key.toLowerCase();
  if (key === "s") { event.preventDefault(); event.target.blur?.(); if (!state.kept) actions.keep(); }
  if (key === "z" && !typing) { event.preventDefault(); (event.shiftKey ? actions.redo : actions.undo)(); }
});
addEventListener("beforeunload", (event) => { if (state && state.may_edit && !isIdle()) event.preventDefault(); });
narrow.addEventListener("change", show);

const [first, known] = await Promise.all([look("/state"), look("/choices")]);
if (known.status === 200) choices = known.said;
take(first.status, first.said, "/state");
if (state?.remarks.length) tell(state.remarks, "file");
follow();
