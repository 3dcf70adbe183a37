"use strict";
/* Ticks stay when a page is opened again: in this browser, under the digest of the plan, since
   all pages that lie on a disk may share one store. Where there is none, ticks are as before. */
const plan = document.body.dataset.plan;
const nameBox = (box) => {
  const legend = box.closest("fieldset").querySelector("legend").textContent;
  return ["wbplan", plan, legend, box.parentElement.textContent].join(" ").replace(/\s+/g, " ");
};
for (const box of document.querySelectorAll("fieldset input[type=checkbox]")) {
  try { box.checked = localStorage.getItem(nameBox(box)) === "1"; } catch { continue; }
  box.addEventListener("change", () => {
    try {
      if (box.checked) localStorage.setItem(nameBox(box), "1");
      else localStorage.removeItem(nameBox(box));
    } catch { box.blur(); }
  });
}
/* A table is a stop of the Tab key only while it scrolls. */
const look = new ResizeObserver((entries) => {
  for (const { target } of entries) {
    if (target.scrollWidth > target.clientWidth + 1) target.tabIndex = 0;
    else target.removeAttribute("tabindex");
  }
});
for (const box of document.querySelectorAll(".scroll")) look.observe(box);
