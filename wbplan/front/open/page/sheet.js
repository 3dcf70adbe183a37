// The sheet of readings: lights down, positions across; on a narrow screen a card a position.
// Built when its shape changes, and brought up to date at every answer.

import { openNaming } from "./naming.js";
import { make, makeId, makeStrip, readNumber } from "./parts.js";

const INTENTS = [
  ["watched", "watched"],
  ["neutral", "neutral"],
  ["leave", "leave as it falls"],
  ["shift", "a shift ..."],
];

export class Sheet {
  constructor(home, edit, tell, getChoices) {
    this.home = home;
    this.edit = edit;
    this.tell = tell;
    this.getChoices = getChoices;
    this.shape = "";
    this.updates = [];
  }

  show(state, at, narrow) {
    const setup = state.setups[at];
    const shape = JSON.stringify([
      at,
      narrow,
      state.may_edit,
      setup.lights.map((each) => [each.name, each.filters, each.other_filter]),
      setup.positions.map((each) => [each.name, typeof each.intent === "object"]),
    ]);
    if (shape !== this.shape) {
      const held = this.home.contains(document.activeElement)
        ? document.activeElement.dataset.at
        : null;
      this.updates = [];
      this.may = state.may_edit;
      this.at = at;
      const built = narrow ? this.buildCards(setup) : this.buildTable(setup);
      this.home.replaceChildren(make("h2", {}, "Readings, lux of each light alone"), sayLike(setup), built, this.buildMore(setup));
      this.shape = shape;
      if (held) this.home.querySelector(`[data-at="${CSS.escape(held)}"]`)?.focus();
    }
    for (const update of this.updates) update(setup, state.decided[at]);
  }

  // Parts that both shapes have.

  watch(update) {
    this.updates.push(update);
  }

  ask(edit, group, failed, done) {
    return this.edit({ setup: this.at, ...edit }, group, failed, done);
  }

  /** What a light or a position is called, what it was called, and a way to change that. */
  buildName(kind, name, tag) {
    const shown = make(tag, { class: "name" }, name);
    const was = make("small", { class: "was" });
    this.watch((setup) => {
      const one = setup[`${kind}s`].find((each) => each.name === name);
      if (!one) return;
      was.textContent = one.was && `was ${one.was}`;
      shown.classList.toggle("whatif", Boolean(one.was || one.changed));
    });
    const change = (edit, done) => this.ask(edit, "", null, done);
    const told = (said, at) => {
      if (said) this.tell(said);
      else this.home.querySelector(`[data-at="${CSS.escape(at)}"]`)?.focus();
    };
    const button = make(
      "button",
      {
        class: "edit",
        "data-at": `name ${kind} ${name}`,
        "aria-label": `rename or remove ${name}`,
        title: "rename or remove",
        onclick: () => openNaming(kind, name, this.at, change, told),
      },
      "…",
    );
    return { shown, was, button: this.may ? button : null };
  }

  buildReading(light, place) {
    const key = `lux ${light} ${place}`;
    const was = make("small", { class: "was" });
    let round = 0;
    let dirty = false;
    let sent = null;
    const input = make("input", {
      type: "text",
      inputmode: "decimal",
      autocomplete: "off",
      "data-at": key,
      "aria-label": `${light} at ${place}, lux`,
      disabled: !this.may,
    });
    const giveUp = () => { dirty = false; sent = null; };  // what stands is shown again
    const send = () => {
      if (!dirty) return;
      const text = input.value.trim();
      const lux = text === "" ? null : readNumber(text);
      if (Number.isNaN(lux)) {
        input.setAttribute("aria-invalid", "true");
        was.textContent = "a figure, as 310 or 12.5";
        return;
      }
      input.removeAttribute("aria-invalid");
      if (text === sent) return;
      sent = text;
      this.ask({ do: "lux", light, position: place, lux }, `${key} ${round}`, giveUp);
    };
    let pause = 0;
    input.addEventListener("focus", () => { round += 1; sent = null; input.select(); });
    input.addEventListener("input", () => {
      dirty = true;
      clearTimeout(pause);
      pause = setTimeout(send, 200);
    });
    input.addEventListener("change", () => { clearTimeout(pause); send(); dirty = false; });
    input.addEventListener("keydown", (event) => {
      const step = { Enter: 1, ArrowDown: 1, ArrowUp: -1 }[event.key];
      if (event.key === "Escape") { dirty = false; clearTimeout(pause); input.value = input.dataset.now; }
      if (!step) return;
      event.preventDefault();
      const all = [...this.home.querySelectorAll("input[data-at^='lux ']")];
      const same = all.filter((each) => each.dataset.place === place);
      input.blur();
      (same[same.indexOf(input) + step] ?? input).focus();
    });
    input.dataset.place = place;
    this.watch((setup) => {
      const cell = setup.positions.find((each) => each.name === place)?.lux[light];
      if (!cell) return;
      input.dataset.now = cell.now;
      if (!(dirty && document.activeElement === input)) input.value = cell.now;
      if (input.hasAttribute("aria-invalid")) return;
      const changed = cell.now !== cell.kept;
      input.classList.toggle("whatif", changed);
      was.textContent = changed ? `was ${cell.kept || "empty"}` : "";
    });
    return make("div", { class: "reading" }, input, was);
  }

  buildSwitch(light) {
    const box = make("input", {
      type: "checkbox",
      "data-at": `on ${light}`,
      disabled: !this.may,
      onchange: () => this.ask({ do: "switch", light, on: box.checked }),
    });
    const said = make("small", { class: "soft" });
    const { shown, was, button } = this.buildName("light", light, "b");
    this.watch((setup, decided) => {
      const one = setup.lights.find((each) => each.name === light);
      if (!one) return;
      box.checked = one.on;
      const seen = decided.lights[light];
      const parts = seen ? [seen.kelvin, seen.duv] : ["not read here"];
      if (one.flash) parts.push("flash, lux seconds");
      said.textContent = parts.filter(Boolean).join(" · ");
    });
    return make("div", { class: "light" }, make("div", { class: "named" }, make("label", {}, box, " ", shown), button), was, said);
  }

  buildLevel(light) {
    let round = 0;
    let pointed = false;
    const said = make("output", { class: "soft" }, "as read");
    const slider = make("input", {
      type: "range",
      min: -4,
      max: 2,
      step: 0.1,
      value: 0,
      "data-at": `level ${light}`,
      "aria-label": `${light}, turn up or down in stops`,
      disabled: !this.may,
    });
    const rest = () => { slider.value = 0; said.textContent = "as read"; round += 1; };
    slider.addEventListener("pointerdown", () => { pointed = true; });
    slider.addEventListener("input", () => {
      const stops = Number(slider.value);
      said.textContent = `${stops > 0 ? "+" : stops < 0 ? "−" : ""}${Math.abs(stops)} stops`;
      this.ask({ do: "level", light, stops }, `level ${light} ${round}`);
    });
    slider.addEventListener("change", () => { if (pointed) { pointed = false; rest(); } });
    slider.addEventListener("blur", rest);
    return make("div", { class: "level" }, slider, said);
  }

  buildFilters(light, now) {
    const list = make("div", { class: "filters" });
    const send = (filters) => this.ask({ do: "filters", light, filters });
    now.filters.forEach((each, row) => {
      const without = now.filters.filter((_, other) => other !== row);
      list.append(
        make(
          "button",
          {
            class: "tag",
            "data-at": `filter ${light} ${row}`,
            "aria-label": `take ${each} off ${light}`,
            disabled: !this.may,
            onclick: () => send(without),
          },
          `${each} ✕`,
        ),
      );
    });
    if (now.other_filter) list.append(make("small", { class: "soft" }, "a filter of the file's own"));
    else if (this.may && now.filters.length < 4) {
      const choose = make("select", {
        "data-at": `hang ${light}`,
        "aria-label": `hang a filter before ${light}`,
        onchange: () => choose.value && send([...now.filters, choose.value]),
      });
      choose.append(make("option", { value: "" }, "filter ..."));
      for (const each of this.getChoices().filters) choose.append(make("option", { value: each }, each));
      list.append(choose);
    }
    return list;
  }

  buildKey(place) {
    const group = `key-${this.at}`;
    const radio = make("input", {
      type: "radio",
      name: group,
      "data-at": `key ${place}`,
      disabled: !this.may,
      onchange: () => this.ask({ do: "key", position: place }),
    });
    this.watch((setup) => { radio.checked = setup.key === place; });
    return make("label", { class: "key" }, radio, " key");
  }

  buildIntent(place, intent) {
    const isShift = typeof intent === "object";
    const choose = make("select", {
      "data-at": `intent ${place}`,
      "aria-label": `${place} is meant to look`,
      disabled: !this.may,
    });
    for (const [value, said] of INTENTS) choose.append(make("option", { value }, said));
    const box = make("div", { class: "intent" }, choose);
    const figures = ["mired", "cc"].map((unit) => {
      const sides = unit === "mired" ? ["warm", "cool"] : ["green", "magenta"];
      const size = make("input", {
        type: "text",
        inputmode: "decimal",
        "data-at": `shift ${unit} ${place}`,
        "aria-label": `${place}, ${unit === "mired" ? "mired" : "CC"}`,
        disabled: !this.may,
      });
      const side = make("select", { "aria-label": `${place}, side of ${unit}`, disabled: !this.may });
      for (const each of sides) side.append(make("option", {}, each));
      const read = () => [`${side.value}_${unit}`, readNumber(size.value) || 0];
      return { sides, unit, size, side, read };
    });
    const send = () => {
      const said = Object.fromEntries(figures.map((each) => each.read()));
      this.ask({ do: "intent", position: place, intent: said });
    };
    choose.addEventListener("change", () => {
      if (choose.value === "shift") {
        this.ask({ do: "intent", position: place, intent: { warm_mired: 20 } });
      } else this.ask({ do: "intent", position: place, intent: choose.value });
    });
    if (isShift) {
      for (const { size, side, unit } of figures) {
        size.addEventListener("change", send);
        side.addEventListener("change", send);
        box.append(make("div", { class: "shift" }, size, unit === "mired" ? " mired " : " CC ", side));
      }
    }
    this.watch((setup) => {
      const now = setup.positions.find((each) => each.name === place)?.intent ?? "watched";
      choose.value = typeof now === "object" ? "shift" : now;
      for (const { sides, unit, size, side } of figures) {
        const hit = sides.find((each) => now[`${each}_${unit}`] !== undefined);
        if (document.activeElement !== size) size.value = hit ? now[`${hit}_${unit}`] : "";
        if (hit) side.value = hit;
      }
    });
    return box;
  }

  buildOutcome(place, parts) {
    return parts.map((part) => {
      const cell = make("div", { class: `outcome ${part}` });
      this.watch((setup, decided) => {
        const one = decided.positions.find((each) => each.name === place);
        if (!one) return;
        cell.replaceChildren(...sayOutcome(part, one, decided));
        cell.classList.toggle("far", part === "cast" && one.far);
      });
      return cell;
    });
  }

  buildMore(setup) {
    if (!this.may) return make("div", {});
    const place = make("input", { type: "text", "aria-label": "name of a new position", placeholder: "new position" });
    const addPlace = () => place.value.trim() && this.ask({ do: "add position", position: place.value.trim() });
    const light = make("input", { type: "text", "aria-label": "name of a new light", placeholder: "new light" });
    const id = makeId("lamps");
    const what = make("input", { type: "text", list: id, "aria-label": "what the new light is: a lamp's name, or a Kelvin", placeholder: "lamp, or Kelvin" });
    const addLight = () => {
      const said = what.value.trim().replace(/\s*k$/i, "");
      const kelvin = readNumber(said);
      const isDay = kelvin >= 4000;
      const edit = Number.isNaN(kelvin)
        ? { kind: "lamp", value: said }
        : { kind: isDay ? "daylight_kelvin" : "black_body_kelvin", value: kelvin };
      if (light.value.trim()) this.ask({ do: "add light", light: light.value.trim(), ...edit });
    };
    const files = make("input", { type: "file", multiple: true, class: "unseen", id: makeId("files"), "data-files": true });
    const list = make("datalist", { id });
    for (const each of this.getChoices().lamps) list.append(make("option", { value: each }));
    return make(
      "div",
      { class: "more" },
      make("form", { onsubmit: (event) => { event.preventDefault(); addPlace(); place.value = ""; } }, place, make("button", {}, "Add position")),
      make("form", { onsubmit: (event) => { event.preventDefault(); addLight(); light.value = ""; } }, light, what, list, make("button", {}, "Add light")),
      make("form", { class: "files", onsubmit: (event) => event.preventDefault() }, files, make("label", { for: files.id, class: "button" }, "Add readings' files"), make("small", { class: "soft" }, " or drop them anywhere")),
    );
  }

  buildTable(setup) {
    const head = make("tr", {}, make("th", { scope: "col" }, "light"), make("th", { scope: "col" }, "level"), make("th", { scope: "col" }, "filters"));
    for (const { name } of setup.positions) {
      const { shown, was, button } = this.buildName("position", name, "div");
      head.append(make("th", { scope: "col", class: "place" }, make("div", { class: "named" }, shown, button), was, this.buildKey(name)));
    }
    const body = make("tbody", {});
    for (const light of setup.lights) {
      const row = make("tr", {}, make("th", { scope: "row" }, this.buildSwitch(light.name)), make("td", {}, this.buildLevel(light.name)), make("td", {}, this.buildFilters(light.name, light)));
      for (const { name } of setup.positions) row.append(make("td", {}, this.buildReading(light.name, name)));
      body.append(row);
    }
    const foot = make("tfoot", {});
    const meant = make("tr", {}, make("th", { scope: "row", colspan: 3 }, "meant to look"));
    for (const { name, intent } of setup.positions) meant.append(make("td", {}, this.buildIntent(name, intent)));
    foot.append(meant);
    for (const [part, label] of OUTCOMES) {
      const row = make("tr", { class: part }, make("th", { scope: "row", colspan: 3 }, label));
      for (const { name } of setup.positions) row.append(make("td", {}, ...this.buildOutcome(name, [part])));
      foot.append(row);
    }
    const table = make("table", {}, make("thead", {}, head), body, foot);
    const frame = make("div", { class: "frame" }, table);
    new ResizeObserver(() => {
      const scrolls = frame.scrollWidth > frame.clientWidth + 1;
      frame.classList.toggle("scrolls", scrolls);
      if (scrolls) { frame.tabIndex = 0; frame.setAttribute("role", "group"); frame.setAttribute("aria-label", "readings, scrolls sideways"); }
      else frame.removeAttribute("tabindex");
    }).observe(frame);
    return frame;
  }

  buildCards(setup) {
    const box = make("div", { class: "cards" });
    for (const { name, intent } of setup.positions) {
      const list = make("ul", {});
      for (const light of setup.lights) list.append(make("li", {}, make("span", { "aria-hidden": "true" }, light.name), this.buildReading(light.name, name)));
      const { shown, was, button } = this.buildName("position", name, "h3");
      box.append(
        make("article", { "aria-label": name }, make("header", {}, make("div", { class: "named" }, shown, button), this.buildKey(name)), was,
          ...this.buildOutcome(name, ["looks", "cast"]), list,
          ...this.buildOutcome(name, ["light", "stop", "lands", "other"]), this.buildIntent(name, intent)),
      );
    }
    const lights = make("article", { "aria-label": "lights" }, make("h3", {}, "Lights"));
    for (const light of setup.lights) lights.append(make("div", { class: "one" }, this.buildSwitch(light.name), this.buildLevel(light.name), this.buildFilters(light.name, light)));
    box.append(lights);
    return box;
  }
}

function sayLike(setup) {
  const said = setup.like && `What is not said of ${setup.name} stands in ${setup.like}; a reading changed here is changed there.`;
  return said ? make("p", { class: "soft" }, said) : "";
}

const OUTCOMES = [
  ["looks", "will look; below, as meant"],
  ["cast", "cast"],
  ["light", "light, from key"],
  ["stop", "stop"],
  ["lands", "18 % grey lands at"],
  ["other", "beside"],
];

function sayOutcome(part, place, decided) {
  const soft = (text) => (text ? make("small", { class: "soft" }, text) : null);
  const all = {
    looks: () => (place.looks.length ? [makeStrip(place)] : ["no light"]),
    cast: () => [make("span", {}, place.trouble || place.cast), soft(place.trouble ? "" : place.band)],
    light: () => [make("span", {}, `${place.lux}, ${place.from_key}`), soft(place.lux_band)],
    stop: () => [make("i", {}, "stop "), make("span", {}, place.stop || "none")],
    lands: () => [make("i", {}, "18 % grey at "), make("span", {}, place.lands || "nowhere"), soft(place.predicted ? "predicted" : "")],
    other: () => decided.beside.map((each) => make("small", {}, `${each.name}: ${each.apart[place.name] ?? "cannot be told"}`)),
  };
  return all[part]().filter(Boolean);
}
