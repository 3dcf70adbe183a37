// Elements of the page, and words that several parts of it say.

/** Make an element: attributes, `on...` listeners, then children (texts are never read as HTML). */
export function make(tag, attributes = {}, ...children) {
  const element = document.createElement(tag);
  for (const [name, value] of Object.entries(attributes)) {
    if (value === undefined || value === null || value === false) continue;
    if (name.startsWith("on")) element.addEventListener(name.slice(2), value);
    else if (name === "value" || name === "checked" || name === "disabled") element[name] = value;
    else element.setAttribute(name, value === true ? "" : value);
  }
  element.append(...children.flat().filter((each) => each !== null && each !== undefined));
  return element;
}

/** Show a drawing that the server made. */
export function draw(svg) {
  const parsed = new DOMParser().parseFromString(svg, "text/html");
  return document.importNode(parsed.body.firstElementChild, true);
}

/** Say a list of surfaces as a strip: above as they will look, below as they are meant to. */
export function makeStrip(place) {
  const said = `${place.name}: a grey and five skins as they will look, ${place.cast}`;
  const strip = make("div", { class: "strip", role: "img" });
  strip.setAttribute("aria-label", place.wanted.length ? `${said}; below, as meant` : said);
  place.looks.forEach((colour, row) => {
    const looks = make("i", {});
    looks.style.background = `#${colour}`;
    const wanted = make("i", { class: "meant" });
    wanted.style.background = `#${place.wanted[row] ?? colour}`;
    strip.append(make("span", {}, looks, wanted));
  });
  return strip;
}

/** Read a figure as people write it; NaN for what is none. */
export function readNumber(text) {
  const said = text.trim().replace(",", ".");
  return /^\d*\.?\d+(e\d+)?$|^\d+\.$/i.test(said) ? Number(said) : NaN;
}

let used = 0;
export const makeId = (stem) => `${stem}-${++used}`;
