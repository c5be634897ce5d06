// What can be seen to be wrong with a page as it stands in the window, one line a fault.
// Called with {widest, least, drawn, target}: px of text, of text in drawings, and of what a glove must hit.
(wanted) => {
  const faults = [];
  const root = document.documentElement;
  const name = (element) => {
    const words = (element.textContent || element.getAttribute("aria-label") || "").trim().replace(/\s+/g, " ");
    const kind = element.getAttribute("class");
    return `<${element.localName}${kind ? " ." + kind.trim().replace(/\s+/g, ".") : ""}> "${words.slice(0, 40)}"`;
  };
  const isShown = (element) =>
    element.checkVisibility({ visibilityProperty: true, opacityProperty: true }) && !element.closest(".unseen, defs, symbol");
  // A bar that stays in view and a menu that opens lie over the page on purpose: each is a sheet of its own.
  const sheetOf = (element) => {
    for (let at = element; at; at = at.parentElement) {
      if (["fixed", "sticky", "absolute"].includes(getComputedStyle(at).position)) return at;
    }
    return root;
  };

  // -- sideways
  if (root.scrollWidth > root.clientWidth) {
    const wide = [...document.body.querySelectorAll("*")].filter((e) => e.getBoundingClientRect().right > root.clientWidth + 0.5);
    faults.push(`scrolls sideways: ${root.scrollWidth} px in ${root.clientWidth}: ${wide.slice(-1).map(name)}`);
  }

  // -- controls
  const controls = [...document.querySelectorAll("a[href], button, summary, input, select, textarea")].filter(
    (element) => isShown(element) && !element.matches(".skip")
  );
  const boxes = controls.map((element) => ({
    element,
    sheet: sheetOf(element),
    rects: [...element.getClientRects()].filter((rect) => rect.width && rect.height),
  }));
  for (let one = 0; one < boxes.length; one++) {
    for (let two = one + 1; two < boxes.length; two++) {
      const [a, b] = [boxes[one], boxes[two]];
      if (a.sheet !== b.sheet || a.element.contains(b.element) || b.element.contains(a.element)) continue;
      for (const p of a.rects) {
        for (const q of b.rects) {
          const x = Math.min(p.right, q.right) - Math.max(p.left, q.left);
          const y = Math.min(p.bottom, q.bottom) - Math.max(p.top, q.top);
          if (x > 1 && y > 1) faults.push(`controls overlap by ${x.toFixed(0)} x ${y.toFixed(0)}: ${name(a.element)} and ${name(b.element)}`);
        }
      }
    }
  }
  if (wanted.target) {
    for (const { element, rects } of boxes) {
      for (const rect of rects) {
        if (rect.width < wanted.target - 0.5 || rect.height < wanted.target - 0.5) {
          faults.push(`target of ${rect.width.toFixed(0)} x ${rect.height.toFixed(0)}: ${name(element)}`);
        }
      }
    }
  }

  // -- text
  const words = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
  const small = new Map();
  for (let node = words.nextNode(); node; node = words.nextNode()) {
    const element = node.parentElement;
    if (!node.data.trim() || element.closest("script, style, title, desc") || !isShown(element)) continue;
    const drawing = element.closest("svg");
    let size = parseFloat(getComputedStyle(element).fontSize);
    if (drawing) {
      const matrix = element.getScreenCTM();
      size *= Math.hypot(matrix.a, matrix.b);
    }
    const least = drawing ? wanted.drawn : wanted.least;
    if (least && size < least - 0.05) {
      const key = `text of ${size.toFixed(1)} px, least ${least}: ${name(element)}`;
      small.set(key, 1);
    }
    if (!drawing) {
      const range = document.createRange();
      range.selectNodeContents(node);
      const rect = range.getBoundingClientRect();
      // What overflows a box that scrolls by itself is reached by scrolling that box.
      if (rect.right > root.clientWidth + 0.5 && !element.closest(".scroll")) {
        faults.push(`text runs out of the page by ${(rect.right - root.clientWidth).toFixed(0)} px: ${name(element)}`);
      }
    }
  }
  faults.push(...small.keys());

  // -- blocks of a drawing on which no word says which they are: neither tag nor position nor its last figure
  for (const block of document.querySelectorAll(".drawing-screen .block")) {
    const { cable, position } = block.dataset;
    const named = [cable, position, position && position.split(".").pop()];
    // What is in a block of the far side is shown once more from the first drawing.
    const lent = block.querySelector(":scope > use");
    const filled = lent ? document.querySelector(lent.getAttribute("href")) : block;
    const said = filled ? [...filled.querySelectorAll("text")].map((text) => text.textContent) : [];
    if (!said.some((word) => named.includes(word))) faults.push(`block without a name: ${position || cable}`);
  }

  // -- cut off
  for (const element of document.body.querySelectorAll("*")) {
    const style = getComputedStyle(element);
    if (!["hidden", "clip"].includes(style.overflowX) && !["hidden", "clip"].includes(style.overflowY)) continue;
    const isForReaders = element.clientWidth <= 1 && element.clientHeight <= 1; // said, not shown
    if (isForReaders || !isShown(element) || element.closest("svg")) continue;
    if (element.scrollWidth > element.clientWidth + 1 || element.scrollHeight > element.clientHeight + 1) {
      faults.push(`cut off (${element.scrollWidth} x ${element.scrollHeight} in ${element.clientWidth} x ${element.clientHeight}): ${name(element)}`);
    }
  }
  return faults;
}
