// What a page must not show, looked for in the page itself. Answers with a list of sentences; none when all is well.
// Put into the page after axe-core, as a function of one number: the least height and width of what is
// pressed, px.
(async (target) => {
  const wrong = [];
  const name = (each) => {
    const said = (each.textContent || each.value || each.getAttribute("aria-label") || "").trim().replace(/\s+/g, " ");
    const kind = each.getAttribute("class");
    return `${each.tagName.toLowerCase()}${each.id ? `#${each.id}` : ""}${kind ? `.${kind.trim().replace(/\s+/g, ".")}` : ""} "${said.slice(0, 40)}"`;
  };

  // -- head
  if (!document.title.replace(/·\s*Stickbook\s*$/, "").trim()) wrong.push("the page has no title");
  const headings = [...document.querySelectorAll("h1")].filter((each) => each.checkVisibility());
  if (headings.length !== 1) wrong.push(`the page has ${headings.length} h1`);

  // -- width
  const root = document.documentElement;
  const over = root.scrollWidth - root.clientWidth;
  if (over > 0) {
    const widest = [...document.body.querySelectorAll("*")]
      .filter((each) => each.checkVisibility() && each.getBoundingClientRect().right > root.clientWidth + 0.5)
      .slice(-1).map(name).join("");
    wrong.push(`wider than the window by ${over} px: ${widest}`);
  }

  // -- text that is cut off: by an ancestor that hides what reaches out of it, by the window, by its own field
  const isAside = (each) => each.closest(".hide, .skip, [hidden]") !== null;
  const style = new Map();
  const styleOf = (each) => {
    if (!style.has(each)) style.set(each, getComputedStyle(each));
    return style.get(each);
  };
  const cut = new Set();
  const walk = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
  const range = document.createRange();
  for (let node = walk.nextNode(); node; node = walk.nextNode()) {
    const parent = node.parentElement;
    if (!node.data.trim() || !parent.checkVisibility({ visibilityProperty: true }) || isAside(parent)) continue;
    if (parent.closest("select, textarea, script, style, title, desc, defs")) continue;
    range.selectNodeContents(node);
    const boxes = [...range.getClientRects()].filter((each) => each.width > 0.5 && each.height > 0.5);
    if (!boxes.length) continue;
    const left = Math.min(...boxes.map((each) => each.left)), right = Math.max(...boxes.map((each) => each.right));
    const top = Math.min(...boxes.map((each) => each.top)), bottom = Math.max(...boxes.map((each) => each.bottom));
    if (right <= 0) continue; // put out of the window on purpose, for those who listen
    let scrolls = false;
    for (let around = parent; around && around !== document.body; around = around.parentElement) {
      const css = styleOf(around);
      if (css.display === "inline" || css.display === "contents") continue;
      const box = around.getBoundingClientRect();
      const across = css.overflowX, down = css.overflowY;
      if (/auto|scroll/.test(across) || /auto|scroll/.test(down)) { scrolls = true; break; }
      const hidesAcross = /hidden|clip/.test(across), hidesDown = /hidden|clip/.test(down);
      // A line is taller than its letters: what reaches out by a fifth of it is empty.
      const slack = (bottom - top) * 0.2;
      if ((hidesAcross && (left < box.left - 1 || right > box.right + 1))
        || (hidesDown && (top < box.top - slack || bottom > box.bottom + slack))) {
        cut.add(`text is cut off by ${name(around)}: "${node.data.trim().slice(0, 40)}"`);
        break;
      }
    }
    if (!scrolls && (left < -1 || right > root.clientWidth + 1)) {
      cut.add(`text reaches out of the window (${Math.round(left)} to ${Math.round(right)}): "${node.data.trim().slice(0, 40)}"`);
    }
  }
  const uuid = /[0-9a-f]{8}(-[0-9a-f]{4}){3}-[0-9a-f]{12}/;
  const pen = document.createElement("canvas").getContext("2d");
  for (const each of document.querySelectorAll("select, input[type=search], input[type=text], input:not([type])")) {
    if (!each.checkVisibility({ visibilityProperty: true }) || isAside(each)) continue;
    const css = styleOf(each);
    // Not css.font: it is empty where a part of it, such as tabular figures, has no place in the short form.
    pen.font = `${css.fontStyle} ${css.fontWeight} ${css.fontSize} ${css.fontFamily}`;
    // A value that was typed may be longer than its field, and is scrolled in it; what the page itself says may not.
    const said = each.tagName === "SELECT" ? (each.selectedOptions[0]?.text ?? "") : (each.value ? "" : each.placeholder);
    // A choice among rows has names that people typed, as long as they like: there the cut itself must be seen.
    if (uuid.test(each.value) && css.textOverflow === "ellipsis") continue;
    const arrow = each.tagName === "SELECT" && css.appearance !== "none" ? 16 : 0; // Chromium draws it inside
    const room = each.clientWidth - parseFloat(css.paddingLeft) - parseFloat(css.paddingRight) - arrow;
    const needs = pen.measureText(said).width;
    if (needs > room + 1) cut.add(`"${said.slice(0, 40)}" is ${Math.round(needs)} px in ${Math.round(room)} px of ${name(each).slice(0, 60)}`);
  }
  wrong.push(...cut);

  // -- targets
  const targets = document.querySelectorAll(
    "button, summary, select, textarea, input:not([type=hidden]), a.btn, nav a, [role=button], [role=tab]");
  for (const each of targets) {
    if (!each.checkVisibility({ visibilityProperty: true }) || isAside(each)) continue;
    // A box or a dot may be small when the label around it is the target.
    const whole = /^(checkbox|radio|file)$/.test(each.type || "") ? each.closest("label") || each : each;
    const box = whole.getBoundingClientRect();
    if (box.right <= 0) continue;
    if (box.height < target - 0.5 || box.width < target - 0.5) {
      wrong.push(`a target of ${Math.round(box.width)} x ${Math.round(box.height)} px: ${name(each)}`);
    }
  }

  // -- axe
  const found = await window.axe.run(document, {
    runOnly: { type: "tag", values: ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"] },
    rules: { "target-size": { enabled: true } },
    resultTypes: ["violations"],
    elementRef: false,
  });
  for (const rule of found.violations) {
    for (const node of rule.nodes.slice(0, 4)) {
      const why = [...node.any, ...node.all, ...node.none].map((each) => each.message).join("; ");
      wrong.push(`axe ${rule.id} (${rule.nodes.length}): ${node.target.join(" ")} ${why.slice(0, 240)}`);
    }
  }
  return wrong;
})
