// A light or a position by name: rename it, or take it out once it is said what goes with it.

import { make, makeId } from "./parts.js";
import { look } from "./server.js";

/** Open the dialog; `ask(edit, done)` makes the change, and `tell(said)` is told what was done. */
export function openNaming(kind, name, setup, ask, tell) {
  const heading = makeId("naming");
  const trouble = make("p", { class: "trouble", role: "alert" });
  const input = make("input", { type: "text", value: name, autocomplete: "off", maxlength: 80, "aria-label": `name of the ${kind}` });
  const goes = make("p", { class: "soft" }, "...");
  const remove = make("button", { type: "button", class: "remove", disabled: true }, `Remove ${name}`);
  const dialog = make("dialog", { class: "naming", "aria-labelledby": heading });
  const send = (edit, said, at) => ask({ ...edit, [kind]: name }, (status, answer) => {
    if (status !== 200 && status !== 409) {
      trouble.textContent = answer.found ? `Found ${answer.found}; allowed: ${answer.allowed}` : answer.trouble;
      input.focus();
      return;
    }
    dialog.close();
    if (status === 200) tell(said, at);
  });
  const form = make(
    "form",
    {
      onsubmit: (event) => {
        event.preventDefault();
        const to = input.value.trim();
        if (to === name) dialog.close();
        else send({ do: `rename ${kind}`, name: to }, "", `name ${kind} ${to}`);
      },
    },
    input,
    make("button", { class: "main" }, "Rename"),
    make("button", { type: "button", onclick: () => dialog.close() }, "Cancel"),
  );
  remove.addEventListener("click", () => send({ do: `remove ${kind}` }, `${name} is removed.`, ""));
  dialog.append(make("h2", { id: heading }, name), form, trouble, goes, remove);
  dialog.addEventListener("close", () => dialog.remove());
  document.body.append(dialog);
  dialog.showModal();
  input.select();
  look(`/goes?${new URLSearchParams({ setup, kind, name })}`).then(({ status, said }) => {
    if (status !== 200) {
      goes.textContent = said.trouble;
      return;
    }
    const [first, ...rest] = said.goes;
    goes.replaceChildren(first ? "This goes with it:" : "Nothing else names it.");
    if (first) goes.after(make("ul", {}, ...[first, ...rest].map((each) => make("li", {}, each))));
    remove.disabled = false;
  });
}
