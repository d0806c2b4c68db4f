/**
 * What an eye would find wrong with a page, found by script in the browser: it is wider than the window, texts lie over one
 * another, a text does not stand out from its ground. Each function runs within the page, so it is plain JavaScript and leans on
 * nothing outside itself; its types stand in `eyes.ts`.
 */

/** Pieces of text with too little contrast against the ground that is painted under them (WCAG 2.2, 1.4.3: 4.5 to 1). */
export function faintTexts(least) {
  const parse = (text) => {
    const [red = 0, green = 0, blue = 0, alpha = 1] = (text.match(/[\d.]+/g) ?? []).map(Number);
    return [red, green, blue, alpha];
  };
  const light = ([red, green, blue]) => {
    const [r = 0, g = 0, b = 0] = [red, green, blue].map((value) => {
      const share = value / 255;
      return share <= 0.04045 ? share / 12.92 : ((share + 0.055) / 1.055) ** 2.4;
    });
    return 0.2126 * r + 0.7152 * g + 0.0722 * b;
  };
  const groundOf = (node) => {
    for (let at = node; at !== null; at = at.parentElement) {
      const ground = parse(getComputedStyle(at).backgroundColor);
      if (ground[3] === 1) return ground;
    }
    return [255, 255, 255, 1];
  };
  const faint = [];
  const walker = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
  for (let node = walker.nextNode(); node !== null; node = walker.nextNode()) {
    const text = node.textContent?.trim() ?? "";
    const holder = node.parentElement;
    if (text === "" || holder === null || holder.closest("style, title, desc, svg, .aloud") !== null) continue;
    if (!holder.checkVisibility()) continue;
    const [ink, ground] = [light(parse(getComputedStyle(holder).color)), light(groundOf(holder))];
    const contrast = (Math.max(ink, ground) + 0.05) / (Math.min(ink, ground) + 0.05);
    if (contrast < least) faint.push(`${contrast.toFixed(2)} to 1: ${text.slice(0, 60)}`);
  }
  return faint;
}

/** Pieces of text that lie over one another by more than a pixel or two, drawings included. */
export function overlappingTexts() {
  const slack = 2;
  const pieces = [];
  const walker = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
  for (let node = walker.nextNode(); node !== null; node = walker.nextNode()) {
    const text = node.textContent?.trim() ?? "";
    const holder = node.parentElement;
    if (text === "" || holder === null || holder.closest("style, title, desc, .aloud") !== null) continue;
    if (!holder.checkVisibility()) continue;
    // What a frame with its own scroll bar hides is not seen.
    const frame = holder.closest(".scroll, .whole")?.getBoundingClientRect();
    const range = document.createRange();
    range.selectNodeContents(node);
    for (const box of range.getClientRects()) {
      const isHidden = frame !== undefined && (box.left >= frame.right || box.top >= frame.bottom);
      if (!isHidden && box.width > 0) pieces.push({ text, node, box });
    }
  }
  pieces.sort((a, b) => a.box.top - b.box.top);
  const over = [];
  for (const [index, one] of pieces.entries()) {
    for (let next = index + 1; next < pieces.length; next++) {
      const other = pieces[next];
      if (other === undefined || other.box.top >= one.box.bottom - slack) break;
      if (other.node === one.node) continue;
      const wide = Math.min(one.box.right, other.box.right) - Math.max(one.box.left, other.box.left);
      const high = Math.min(one.box.bottom, other.box.bottom) - Math.max(one.box.top, other.box.top);
      if (wide > slack && high > one.box.height / 3) over.push(`${one.text.slice(0, 40)} / ${other.text.slice(0, 40)}`);
    }
  }
  return over;
}

/** How many pixels of the page lie beyond the window. */
export function pixelsBeyond() {
  return document.documentElement.scrollWidth - window.innerWidth;
}

/** Unfolds everything. */
export function unfoldAll() {
  for (const folded of document.querySelectorAll("details")) folded.open = true;
}

/** Whether an element can be seen, is unfolded, is where the last link led, and has the keyboard. */
export function standingOf(node) {
  return {
    isSeen: node.checkVisibility(),
    isUnfolded: node.closest("details")?.open ?? true,
    isTarget: document.querySelector(":target") === node,
    isActive: document.activeElement === node,
  };
}

/** Where the keyboard is: its place in the order of the page, and whether a reader sees it; undefined: nowhere. */
export function keyboardStop() {
  const node = document.activeElement;
  if (node === null || node === document.body) return undefined;
  const isMarked = getComputedStyle(node).outlineStyle !== "none";
  return { order: [...document.querySelectorAll("*")].indexOf(node), isInSight: node.checkVisibility() && isMarked };
}

/** Milliseconds from asking for the page until it was there. */
export function openedAfterMs() {
  return Math.max(...performance.getEntriesByType("navigation").map(({ duration }) => duration));
}
