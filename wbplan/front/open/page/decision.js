// The decision, always in view: what to dial, the stop, how the key will look, what is furthest off.

import { make, makeStrip } from "./parts.js";

export function showDecision(home, state, at, actions) {
  const setup = state.decided[at];
  const key = setup.positions.find((each) => each.name === state.setups[at].key);
  const whatIf = !state.kept;
  const buttons = state.may_edit
    ? make(
        "div",
        { class: "actions" },
        make("button", { onclick: actions.undo, disabled: !state.undo, title: state.undo }, "Undo"),
        make("button", { onclick: actions.redo, disabled: !state.redo, title: state.redo }, "Redo"),
        make("button", { onclick: actions.keep, disabled: !whatIf, class: "main" }, "Save"),
        make("button", { onclick: actions.plan, disabled: whatIf }, "Plan"),
      )
    : make("p", { class: "only" }, "To look at only");
  const focused = home.contains(document.activeElement) ? document.activeElement.textContent : "";
  home.replaceChildren(
    make(
      "div",
      { class: "dial" },
      make("h1", {}, make("b", {}, setup.kelvin), " ", make("span", {}, setup.tint)),
      make("p", { class: "soft" }, setup.given ? "as it is shot" : `exact ${setup.exact}`),
      setup.band ? make("p", { class: "soft" }, setup.band) : null,
    ),
    make(
      "div",
      { class: "stop" },
      make("p", { class: "big" }, setup.stop),
      make("p", {}, setup.nd),
      make("p", { class: "soft" }, `${setup.run}`),
    ),
    make(
      "div",
      { class: setup.key_far ? "face far" : "face" },
      key && key.looks.length ? makeStrip(key) : null,
      make("p", {}, make("b", {}, setup.key), ` ${setup.key_look}`),
      setup.worst ? make("p", { class: "soft worst" }, `furthest off: ${setup.worst}`) : null,
      setup.warnings.length
        ? make("p", { class: "count" }, make("a", { href: "#warnings" },
            `${setup.warnings.length} ${setup.warnings.length === 1 ? "warning" : "warnings"}`))
        : null,
    ),
    make(
      "div",
      { class: "file" },
      make(
        "p",
        { class: whatIf ? "chip whatif" : "chip" },
        whatIf ? `what-if, not in ${state.file}` : `saved in ${state.file}`,
      ),
      state.invented ? make("p", { class: "chip" }, "invented data") : null,
      buttons,
    ),
  );
  for (const each of home.querySelectorAll("button")) {
    if (each.textContent === focused) each.focus();
  }
}

export function sayDecision(setup) {
  return `${setup.dial}. ${setup.stop}, ${setup.nd}. ${setup.key}: ${setup.key_look}.`;
}
