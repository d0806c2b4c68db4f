/**
 * What runs in the browser's page, each function on its own. Boxes are those that the browser draws.
 */

/** Text that leaves its block or the sheet, and text over text: a line each. */
export function textFaults() {
  const meet = (a, b) =>
    a.right > b.left + 0.5 && b.right > a.left + 0.5 && a.bottom > b.top + 2.5 && b.bottom > a.top + 2.5;
  const inside = (a, b) =>
    a.left >= b.left - 0.5 && a.right <= b.right + 0.5 && a.top >= b.top - 1 && a.bottom <= b.bottom + 1;
  const faults = [];
  const sheet = document.querySelector("svg").getBoundingClientRect();
  for (const device of document.querySelectorAll(".dp-device")) {
    const block = device.querySelector(".dp-block")?.getBoundingClientRect();
    for (const text of device.querySelectorAll("text:not(.dp-flag-number)")) {
      if (block !== undefined && !inside(text.getBoundingClientRect(), block))
        faults.push(`${text.textContent} leaves its block`);
    }
  }
  const texts = [...document.querySelectorAll("svg text")]
    .filter((element) => element.checkVisibility())
    .map((element) => ({
      name: element.textContent,
      box: element.getBoundingClientRect(),
    }));
  for (const [index, one] of texts.entries()) {
    if (!inside(one.box, sheet)) faults.push(`${one.name} leaves the sheet`);
    for (const other of texts.slice(index + 1))
      if (meet(one.box, other.box)) faults.push([one.name, other.name].sort().join(" meets "));
  }
  return faults;
}

/** The ground of each drawing, as a colour. */
export function grounds() {
  return [...document.querySelectorAll("rect.dp-ground")].map((rect) => getComputedStyle(rect).fill);
}
