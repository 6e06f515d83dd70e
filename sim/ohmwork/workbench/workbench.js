// The workbench's page. It sends small operations and shows what comes back; it knows
// nothing of circuits. No imports, nothing fetched.

const KEYS = [
  ["Arrow keys", "to the next place on the drawing"],
  ["Q or Enter", "put lead A here"],
  ["W", "put lead B here"],
  ["E", "open, pull or refit the part here; step a control"],
  ["T", "next tool"],
  ["N", "note the reading"],
  ["U", "undo"],
  ["G", "go to a place by its name"],
  ["F", "the whole drawing, or its full size"],
  ["S", "sound on or off"],
  ["?", "show or hide this list"],
  ["Esc", "leave the workbench"],
];
const SHAPES = {
  live: '<path d="M8 2 15 14H1Z" fill="currentColor"/>',
  ground: '<path d="M1 5H15M4 9H12M6.5 13H9.5" stroke="currentColor" stroke-width="2"/>',
  open: '<path d="M8 2 14 8 8 14 2 8Z" fill="none" stroke="currentColor" stroke-width="2"/>',
};
const NEAR = { mouse: 14, pen: 20, touch: 24 };
const SURE = 9; // nearer to a terminal than that, a click on a wire means the terminal
const PATIENCE = 4000;
const MARKING = 60000;
const SOUND = "ohmwork-sound";

function element(tag, properties = {}, ...children) {
  const { data, aria, ...rest } = properties;
  const made = Object.assign(document.createElement(tag), rest);
  for (const [name, value] of Object.entries(data ?? {})) made.dataset[name] = value;
  for (const [name, value] of Object.entries(aria ?? {})) {
    made.setAttribute(name === "role" ? name : `aria-${name}`, value);
  }
  made.append(...children);
  return made;
}

function button(text, act, properties = {}) {
  const made = element("button", { type: "button", textContent: text, ...properties });
  made.dataset.lmSuppressShortcuts = "true";
  made.addEventListener("click", act);
  return made;
}

function keyed(made, key) {
  made.append(element("kbd", { textContent: key, aria: { hidden: "true" } }));
  made.setAttribute("aria-keyshortcuts", key);
}

function chooser(label, options, properties = {}) {
  const made = element("select", { ...properties, aria: { label } });
  made.dataset.lmSuppressShortcuts = "true";
  fill(made, options);
  return made;
}

function fill(list, options) {
  list.replaceChildren(
    ...options.map(([value, text]) => element("option", { value, textContent: text })),
  );
}

const shown = (node, condition) => { node.hidden = !condition; };
const text = (node, words) => { if (node.textContent !== words) node.textContent = words; };

class Page {
  constructor(model, root) {
    this.model = model;
    this.root = root;
    this.focus = "";
    this.hand = "A";
    this.sound = localStorage.getItem(SOUND) !== "off";
    this.rows = [["", ""]];
    this.waiting = 0;
    root.classList.add("ow");
    root.dataset.lmSuppressShortcuts = "true";
    this.begin();
    for (const event of ["keydown", "keyup", "keypress"]) {
      root.addEventListener(event, (e) => this.key(e));
    }
    model.on("change:state", () => this.show());
    model.on("change:fixed", () => {
      this.begin();
      this.root.scrollIntoView();
      this.point()?.node.focus({ preventScroll: true });
    });
    model.on("change:sheet", () => this.draw());
  }

  // -- what is there --

  begin() {
    this.fixed = this.model.get("fixed");
    this.rows = [["", ""]];
    const concluded = this.model.get("state").conclusion;
    if (concluded.length) this.rows = concluded.map((row) => [...row]);
    this.build();
    this.draw();
    this.show(true);
  }

  build() {
    const { fixed } = this;
    this.controls = Object.fromEntries(fixed.controls.map((c) => [c.name, this.control(c)]));
    this.undo = button("Undo", () => this.send({ do: "undo" }));
    this.soundKey = button("", () => this.toggleSound());
    this.showSound();
    this.keysKey = button("Keys", () => this.toggleKeys(), { aria: { expanded: "false" } });
    this.keys = element("dl", { className: "ow-keys", hidden: true },
      ...KEYS.flatMap(([key, does]) => [
        element("dt", { textContent: key }), element("dd", { textContent: does }),
      ]));
    this.allControls = button("All controls", () => {
      this.allControls.setAttribute("aria-pressed", this.allControls.getAttribute("aria-pressed") !== "true");
      this.showControls();
    }, { aria: { pressed: "false" } });
    const bar = element("div", { className: "ow-bar", aria: { role: "group", label: "Controls" } },
      ...fixed.controls.map((c) => this.controls[c.name].box), this.allControls,
      element("div", { className: "ow-bar-end" }, this.undo, this.soundKey, this.keysKey));

    this.caption = element("div", { className: "ow-caption-text" });
    this.actions = element("div", { className: "ow-actions" });
    this.names = element("datalist", { id: `ow-places-${Math.random()}` });
    this.goTo = element("input", { className: "ow-go", placeholder: "Go to ...",
      data: { lmSuppressShortcuts: "true" }, aria: { label: "Go to a place" } });
    this.goTo.setAttribute("list", this.names.id);
    this.goTo.addEventListener("change", () => this.goThere());
    this.sheets = chooser("Sheet", fixed.sheets.map((s) => [s, s]), { className: "ow-sheets" });
    this.sheets.addEventListener("change", () => this.send({ do: "turn", sheet: this.sheets.value }));
    shown(this.sheets, fixed.sheets.length > 0);
    const caption = element("div", { className: "ow-caption" }, this.caption, this.actions, this.sheets, this.goTo, this.names);

    this.svg = element("div", { className: "ow-paper" });
    this.sheetBox = element("div", { className: "ow-sheet", aria: { role: "group", label: "Wiring diagram" } }, this.svg);
    this.sheetBox.addEventListener("pointerdown", (e) => this.press(e));
    this.sheetBox.addEventListener("click", (e) => this.click(e));
    this.sheetBox.addEventListener("focusin", (e) => {
      const place = e.target.closest(".ow-point")?.dataset.place;
      if (place && place !== this.focus) this.select(place);
    });

    this.display = element("div", { className: "ow-display" });
    this.verdict = element("div", { className: "ow-verdict" });
    this.sentence = element("div", { className: "ow-sentence" });
    this.held = element("div", { className: "ow-held" });
    this.hold = button("Hold min and max", () => this.send({ do: "hold" }));
    const meter = element("div", { className: "ow-meter" },
      this.display, this.verdict, this.sentence, this.held);

    this.leads = Object.fromEntries(["A", "B"].map((letter) => [letter, this.lead(letter)]));
    this.leftList = element("ul", { className: "ow-left" });
    this.leave = button("Leave it connected", () => this.send({ do: "leave" }));
    this.fetch = button("Fetch all", () => this.send({ do: "fetch" }));
    this.loom = button("Move the loom", () => this.send({ do: "move_loom" }));
    this.warm = button("Warm up", () => this.send({ do: "warm_up" }));
    const leads = element("div", { className: "ow-leads" },
      this.leads.A.box, this.leads.B.box, this.leftList,
      element("div", { className: "ow-few" }, this.hold, this.leave, this.fetch, this.loom, this.warm));

    this.tools = Object.fromEntries(fixed.tools.map((t) => [t.name, button(t.label,
      () => this.send({ do: "use", tool: t.name }), { title: t.help, className: "ow-tool" })]));
    const group = (label, some) => element("div", { className: "ow-tools", aria: { role: "group", label } },
      element("h4", { textContent: label }), ...some.map((t) => this.tools[t.name]));
    const tools = element("div", { className: "ow-toolbox" },
      group("Meter", fixed.tools.filter((t) => t.isMeter)),
      group("Other tools", fixed.tools.filter((t) => !t.isMeter)));
    this.status = element("div", { className: "ow-status", aria: { live: "polite", role: "status" } });
    this.whole = button("Whole drawing", () => {
      this.whole.setAttribute("aria-pressed", this.whole.getAttribute("aria-pressed") !== "true");
      this.fit();
    }, { className: "ow-whole", hidden: true, aria: { pressed: "false" } });
    keyed(this.whole, "F");
    const told = element("div", { className: "ow-told" }, this.status, this.whole);
    this.observer?.disconnect();
    this.observer = new ResizeObserver(() => this.fit());
    this.observer.observe(this.sheetBox);
    const act = element("div", { className: "ow-act" }, bar, this.keys, caption, told, this.sheetBox,
      element("div", { className: "ow-bench" }, meter, leads, tools));
    const card = this.card();
    this.result = element("div", { className: "ow-result" }, this.marks, this.another);
    this.root.replaceChildren(element("div", { className: "ow-frame" }, act, card, this.result));
  }

  control({ name, label, positions }) {
    const send = (position) => this.send({ do: "set_control", part: name, position });
    if (positions.length > 4 || this.fixed.controls.length > 4) {
      const list = chooser(label, positions.map((p) => [p, p]));
      list.addEventListener("change", () => send(list.value));
      const box = element("label", { className: "ow-control" }, element("span", { textContent: label }), list);
      return { box, show: (now) => { list.value = now; } };
    }
    const keys = positions.map((p) => button(p, () => send(p)));
    const box = element("div", { className: "ow-control", aria: { role: "group", label } },
      element("span", { textContent: label }), element("span", { className: "ow-segments" }, ...keys));
    return { box, show: (now) => keys.forEach((key) => {
      key.setAttribute("aria-pressed", key.textContent === now);
    }) };
  }

  showControls() {
    const all = this.allControls.getAttribute("aria-pressed") === "true";
    const near = this.state.sheetControls;
    shown(this.allControls, near.length < this.fixed.controls.length);
    for (const [name, control] of Object.entries(this.controls)) shown(control.box, all || near.includes(name));
  }

  lead(letter) {
    const flag = element("span", { className: `ow-flag ow-flag-${letter.toLowerCase()}`, textContent: letter });
    const where = element("span", { className: "ow-where" });
    const hand = button(`Lead ${letter}`, () => { this.hand = letter; this.show(); },
      { className: "ow-hand", title: "The next click on the drawing moves this lead" });
    hand.prepend(flag);
    const lift = button("Lift", () => this.send({ do: "lift", lead: letter }),
      { aria: { label: `Lift lead ${letter}` } });
    hand.addEventListener("pointerdown", (e) => this.drag(e, letter));
    return { hand, lift, where, box: element("div", { className: "ow-lead" }, hand, where, lift) };
  }

  card() {
    const { fixed } = this;
    const part = (...children) => element("section", {}, ...children);
    const head = (words) => element("h4", { textContent: words });
    this.sights = element("p");
    this.incidents = element("div", { className: "ow-warning" });
    this.notes = element("ol", { className: "ow-notes" });
    this.live = element("div", { className: "ow-live-row" });
    this.hints = element("div");
    this.hint = button("Show hint", () => this.send({ do: "hint" }));
    this.conclusion = element("div", { className: "ow-answers" });
    this.more = button("Add another answer", () => { this.rows.push(["", ""]); this.answers(); });
    this.locked = element("p", { textContent: "Locked by the repair." });
    this.repairs = chooser("Repair", [["", "choose"], ...fixed.repairs]);
    this.repair = button("Repair it", () => {
      const gap = this.repairs.value ? this.missing() : "Still to choose: where to repair.";
      if (gap) this.say(gap);
      else this.send({ do: "repair", site: this.repairs.value });
    });
    this.repaired = element("p");
    this.check = element("p");
    this.handIn = button("Hand in", () => this.ask(), { className: "ow-hand-in" });
    this.sure = element("div", { hidden: true },
      element("p", { textContent: "Hand in? It cannot be taken back." }),
      button("Yes, hand in", () => this.send({ do: "hand_in" })),
      button("Go on working", () => shown(this.sure, false)));
    this.marks = element("div", { className: "ow-marks" });
    this.another = button("Another fault", () => this.send({ do: "another" }));
    return element("div", { className: "ow-card" },
      part(element("div", { className: "ow-over" },
        element("span", { textContent: `Ticket ${fixed.ticket}` }),
        element("span", { textContent: `${fixed.marks} marks` })),
      element("h3", { textContent: fixed.title }), element("p", { textContent: fixed.brief }),
      element("p", { textContent: `The driver says: “${fixed.complaint}”` })),
      part(head("You see and hear"), this.sights, this.incidents),
      part(head("Readings"), this.notes, this.live),
      part(head("Stuck?"), this.hints, this.hint),
      part(head("Conclusion"), this.locked, this.conclusion, this.more),
      part(head("Repair"), this.repaired, this.repairs, this.repair),
      part(this.check, this.handIn, this.sure));
  }

  answers() {
    const { fixed, state } = this;
    const sites = [["", "choose"], ...fixed.sites.map(([site, label]) => [site, label])];
    const kinds = Object.fromEntries(fixed.sites.map(([site, , some]) => [site, some]));
    const made = this.rows.map((row, k) => {
      const where = chooser(k ? "or where" : "Where", sites);
      const what = chooser("What", []);
      const offer = () => {
        fill(what, [["", "choose"], ...(kinds[row[0]] ?? [])]);
        what.value = row[1];
      };
      where.value = row[0];
      offer();
      where.addEventListener("change", () => {
        row[0] = where.value;
        if (!(kinds[row[0]] ?? []).some(([kind]) => kind === row[1])) row[1] = "";
        offer();
        this.conclude();
      });
      what.addEventListener("change", () => { row[1] = what.value; this.conclude(); });
      const here = button("", () => this.takeSite(row), { className: "ow-take" });
      const remove = button("Remove", () => { this.rows.splice(k, 1); this.answers(); this.conclude(); });
      shown(remove, this.rows.length > 1);
      for (const input of [where, what, here, remove]) input.disabled = state.isLocked || state.isHandedIn;
      return element("div", { className: "ow-answer" },
        element("label", {}, element("span", { textContent: k ? "or" : "Where" }), where), here,
        element("label", {}, element("span", { textContent: "What" }), what), remove);
    });
    this.conclusion.replaceChildren(...made);
    this.nameTaken();
    this.more.disabled = state.isLocked || state.isHandedIn;
    this.checkAll();
  }

  markedSite() {
    const [part, terminal] = this.focus.split(":");
    const names = this.fixed.sites.map(([site]) => site);
    const whole = [this.focus, this.focus.replace(/p$/, ""), part].find((s) => names.includes(s));
    const contacts = names.filter((s) => s.startsWith(`${part}:`) && s.slice(part.length + 1).split("-").includes(terminal));
    return whole ?? (contacts.length === 1 ? contacts[0] : undefined);
  }

  takeSite(row) {
    const site = this.markedSite();
    if (!site) {
      this.say(`${this.focus} is marked on the drawing; it does not name one part that can be at fault. Click another place or a wire, or choose from the list.`);
      return;
    }
    if (site !== row[0]) [row[0], row[1]] = [site, ""];
    this.answers();
    const label = this.fixed.sites.find(([s]) => s === site)[1];
    this.say(`Taken: ${label}. To take another, click it on the drawing first.`);
  }

  nameTaken() {
    const words = `Take ${this.markedSite() ?? "a part"} from the drawing`;
    for (const key of this.conclusion.querySelectorAll(".ow-take")) text(key, words);
  }

  missing() {
    const empty = this.rows.findIndex(([site, kind]) => !site && !kind);
    if (empty >= 0 && this.rows.length > 1) return `Answer ${empty + 1} is empty: fill it or remove it.`;
    const gaps = new Set(this.rows.flatMap(([site, kind]) => [site ? "" : "where", kind ? "" : "what is wrong"]));
    gaps.delete("");
    return gaps.size ? `Still to choose: ${[...gaps].join(" and ")}.` : "";
  }

  conclude() {
    const isNew = JSON.stringify(this.rows) !== JSON.stringify(this.state.conclusion);
    if (isNew && !this.missing()) this.send({ do: "conclude", rows: this.rows });
    else this.checkAll();
  }

  checkAll() {
    const { state } = this;
    const gap = this.missing();
    const [once, done] = state.isPractice
      ? ["Hand in to see your marks.", "Marked. Your marks are below."]
      : ["You can hand in once.", "Handed in. Save the notebook."];
    text(this.check, state.isHandedIn ? done : gap || `${once} ${state.undone}`);
    this.handIn.classList.toggle("ow-ready", !gap && !state.isHandedIn);
    this.handIn.disabled = state.isHandedIn;
  }

  ask() {
    const gap = this.missing();
    if (gap) this.say(gap);
    else { shown(this.sure, true); this.sure.querySelector("button").focus(); }
  }

  // -- the drawing --

  // Text stays at its size unless the learner asks to see all at once.
  fit() {
    const drawing = this.svg.querySelector("svg");
    const { width, height } = drawing.viewBox.baseVal;
    const most = parseFloat(getComputedStyle(this.sheetBox).maxHeight);
    const scale = Math.min(1, this.sheetBox.clientWidth / width, most / height);
    const isWhole = this.whole.getAttribute("aria-pressed") === "true";
    shown(this.whole, scale < 0.99 || isWhole);
    drawing.style.width = `${width * (isWhole ? scale : 1)}px`;
    drawing.style.height = `${height * (isWhole ? scale : 1)}px`;
  }

  draw() {
    const had = this.svg.contains(document.activeElement);
    this.svg.innerHTML = this.model.get("sheet");
    const drawing = this.svg.querySelector("svg");
    drawing.setAttribute("role", "group");
    // Ids are not alone on a page with more drawings; the title is.
    drawing.setAttribute("aria-label", drawing.querySelector("title").textContent);
    drawing.removeAttribute("aria-labelledby");
    this.fit();
    const points = [...this.svg.querySelectorAll(".ow-point")];
    this.points = points.map((node) => {
      const circle = node.querySelector("circle");
      const words = node.querySelector("title").textContent;
      node.querySelector("title").remove();
      node.setAttribute("role", "button");
      node.setAttribute("aria-label", words);
      node.setAttribute("tabindex", "-1");
      node.dataset.lmSuppressShortcuts = "true";
      return {
        node, words, place: node.dataset.place, track: Number(node.dataset.track),
        x: circle.cx.baseVal.value, y: circle.cy.baseVal.value,
      };
    });
    const places = new Map(this.fixed.places.length
      ? this.fixed.places.map(([place, label]) => [place, `${place}, ${label}`])
      : this.points.map((p) => [p.place, p.words]));
    const sorted = [...places].sort(([a], [b]) => a.localeCompare(b, "en", { numeric: true }));
    fill(this.names, sorted.map(([place, words]) => [place, words.replace(", ", " – ")]));
    const wanted = this.wanted && this.points.some((p) => p.place === this.wanted);
    if (wanted) [this.focus, this.wanted] = [this.wanted, ""];
    if (!this.point() && !this.wires().length) this.focus = this.points[0]?.place ?? "";
    this.select(this.focus, had || wanted);
    if (this.state) { this.leadsDrawn(); this.work(); }
  }

  goThere() {
    const typed = this.goTo.value.trim();
    const places = [...this.names.children].map((option) => option.value);
    const place = places.find((p) => p.toLowerCase() === typed.toLowerCase())
      ?? places.find((p) => p.toLowerCase().startsWith(typed.toLowerCase()));
    if (!typed) return;
    this.goTo.value = "";
    if (place) this.find(place);
    else this.say(`No place is called ${typed}. Names stand beside the symbols, such as ${places[0]}.`, true);
  }

  find(place) {
    if (this.points.some((p) => p.place === place)) { this.select(place, true); return; }
    const sheets = this.fixed.places.find(([p]) => p === place)?.[2] ?? [];
    if (!sheets.length) return;
    this.wanted = place;
    this.send({ do: "turn", sheet: sheets[0] });
  }

  point() { return this.points.find((p) => p.place === this.focus); }

  wires() { return [...this.svg.querySelectorAll(".ow-line")].filter((line) => line.dataset.part === this.focus); }

  socketOf(place) { return this.points.find((p) => place && this.fixed.tops[p.place] === place); }

  home() { return this.point() ?? this.points.find((p) => p.node.tabIndex === 0) ?? this.points[0]; }

  select(place, move = false) {
    this.focus = place;
    this.svg.querySelectorAll(".ow-focus").forEach((node) => node.classList.remove("ow-focus"));
    this.wires().forEach((line) => line.classList.add("ow-focus"));
    const home = this.home();
    home?.node.setAttribute("tabindex", "0");
    const point = this.point();
    if (point) {
      point.node.classList.add("ow-focus");
      this.points.forEach((p) => p.node.setAttribute("tabindex", p === point ? "0" : "-1"));
      if (move) {
        point.node.focus({ preventScroll: true });
        this.reveal(point.node);
      }
    }
    this.describe();
  }

  reveal(node) {
    const box = this.sheetBox.getBoundingClientRect();
    const at = node.getBoundingClientRect();
    if (at.left < box.left + 24) this.sheetBox.scrollLeft -= box.left + 48 - at.left;
    if (at.right > box.right - 24) this.sheetBox.scrollLeft += at.right - box.right + 48;
    if (at.top < box.top + 24) this.sheetBox.scrollTop -= box.top + 48 - at.top;
    if (at.bottom > box.bottom - 24) this.sheetBox.scrollTop += at.bottom - box.bottom + 48;
  }

  describe() {
    if (!this.state) return;
    const isWire = !this.focus.includes(":");
    const words = isWire ? this.focus : this.point()?.words ?? "";
    const [place, ...rest] = words.split(", ");
    const wire = this.fixed.repairs.find(([site]) => site === this.focus)?.[1].split(" – ")[1] ?? "wire";
    const others = (this.fixed.places.find(([p]) => p === this.focus)?.[2] ?? []).filter((s) => s !== this.state.turnedTo);
    const also = others.length ? `; also on: ${others.slice(0, 3).join(", ")}${others.length > 3 ? " ..." : ""}` : "";
    this.caption.replaceChildren(
      element("b", { textContent: place }), ` ${isWire ? wire : rest.join(", ")}${also}`);
    this.nameTaken();
    const offer = (label, key, act) => {
      const made = button(label, act);
      if (key) keyed(made, key);
      made.disabled = this.state.isHandedIn;
      return made;
    };
    const part = this.focus.split(":")[0];
    const made = [];
    const isTwo = this.fixed.tools.find((t) => t.name === this.state.tool).leads === 2;
    if (this.focus) {
      const tool = this.fixed.tools.find((t) => t.name === this.state.tool);
      const one = { look: "Look here", clamp: "Clamp here" }[tool.name] ?? "Put lead A here";
      if (isWire === (tool.name === "clamp")) made.push(offer(one, "Q", () => this.place("A")));
      if (isTwo && !isWire) made.push(offer("Put lead B here", "W", () => this.place("B")));
    }
    const top = this.fixed.tops[this.focus];
    if (top && isTwo && !this.state.apart.includes(part)) {
      made.push(offer("On its top", "", () => { this.put(this.hand, top); }));
    }
    if (part in this.fixed.plugs) {
      const verb = this.state.apart.includes(part) ? (this.fixed.plugs[part] === "Open" ? "Join" : "Refit") : this.fixed.plugs[part];
      made.push(offer(`${verb} ${part}`, "E", () => this.send({ do: "plug", part })));
    } else if (part in this.state.positions) {
      made.push(offer(`Step ${part}`, "E", () => this.step(part)));
    }
    this.actions.replaceChildren(...made);
  }

  put(lead, place) {
    this.hand = lead === "A" ? "B" : "A";
    this.send({ do: "place", lead, place });
  }

  place(lead) {
    const isWire = !this.focus.includes(":");
    if (isWire && this.state.tool !== "clamp") this.say("A lead goes on one of the circles.");
    else if (this.focus) this.send({ do: "place", lead, place: this.focus });
  }

  step(part) {
    const { positions } = this.fixed.controls.find((c) => c.name === part);
    const next = (positions.indexOf(this.state.positions[part]) + 1) % positions.length;
    this.send({ do: "set_control", part, position: positions[next] });
  }

  near(event) {
    const drawing = this.svg.querySelector("svg");
    if (!drawing) return null;
    const matrix = drawing.getScreenCTM();
    const at = new DOMPoint(event.clientX, event.clientY).matrixTransform(matrix.inverse());
    const reach = (NEAR[event.pointerType] ?? NEAR.mouse) / matrix.a;
    let best = null;
    for (const p of this.points) {
      const far = Math.hypot(p.x - at.x, p.y - at.y);
      if (far <= reach && (!best || far < best.far)) best = { ...p, far, pixels: far * matrix.a };
    }
    return best;
  }

  press(event) { if (this.near(event)) event.preventDefault(); }

  under(event) {
    this.svg.classList.add("ow-wide");
    const found = document.elementsFromPoint(event.clientX, event.clientY)
      .map((node) => node.closest(".ow-paper [data-part]:not(.ow-area)")).filter(Boolean);
    this.svg.classList.remove("ow-wide");
    return found.find((node) => !node.matches(".ow-line, .ow-frame")) ?? found[0];
  }

  click(event) {
    let point = this.near(event);
    const under = point?.pixels < SURE ? undefined : this.under(event);
    const part = under?.dataset.part;
    const isWire = [...this.svg.querySelectorAll(".ow-line")].some((line) => part && line.dataset.part === part);
    if (isWire) point = null;
    if (!point) {
      if (part in this.state.positions) this.step(part);
      else if (isWire) {
        this.select(part);
        if (this.state.tool === "clamp") this.place("A");
      } else if (under) this.mark(part, event);
      return;
    }
    this.select(point.place, true);
    if (this.state.isHandedIn || this.state.tool === "clamp") return;
    const tool = this.fixed.tools.find((t) => t.name === this.state.tool);
    this.put(tool.leads === 1 ? "A" : this.hand, point.place);
  }

  // A symbol is no place for a lead: its nearest place is marked, and the caption offers the rest.
  mark(part, event) {
    const near = this.points.filter((p) => p.place.startsWith(`${part}:`));
    if (!near.length) { this.say(`${part}: no lead can reach it.`); return; }
    const far = (p) => {
      const box = p.node.getBoundingClientRect();
      return Math.hypot(box.x + box.width / 2 - event.clientX, box.y + box.height / 2 - event.clientY);
    };
    this.select(near.reduce((best, p) => (far(p) < far(best) ? p : best)).place, true);
    const places = [...new Set(near.map((p) => p.place))].join(", ");
    this.say(`${part} is marked. A lead goes on one of its circles: ${places}.`);
  }

  drag(event, letter) {
    this.hand = letter;
    const move = (e) => { const p = this.near(e); if (p && p.place !== this.focus) this.select(p.place); };
    const drop = (e) => {
      window.removeEventListener("pointermove", move);
      window.removeEventListener("pointerup", drop);
      const point = this.near(e);
      if (!point) return;
      this.select(point.place, true);
      this.place(letter);
    };
    window.addEventListener("pointermove", move);
    window.addEventListener("pointerup", drop);
    event.target.releasePointerCapture?.(event.pointerId);
  }

  // Where a lead runs down: on its side, as near as may be, and over few labels and wires.
  aside({ x, y }, side, width) {
    const drawing = this.svg.querySelector("svg");
    const boxes = (what) => [...drawing.querySelectorAll(what)].map((node) => node.getBBox());
    const texts = boxes("text").filter((b) => b.y + b.height > y);
    const lines = boxes(".ow-line path").filter((b) => b.width < 2 && b.y + b.height > y + 30);
    const cost = (far) => Math.abs(far - x) / 60
      + texts.filter((b) => { const gap = b.y < y + 32 ? 10 : 3; return b.x - gap < far && far < b.x + b.width + gap; }).length
      + 3 * lines.filter((b) => Math.abs(b.x - far) < 9).length;
    const tried = [20, 26, 32, 38, 44, 50, 56, 62, 68].map((off) => Math.min(Math.max(x + off * side, 14), width - 14));
    return tried.reduce((best, far) => (cost(far) < cost(best) ? far : best));
  }

  leadsDrawn() {
    const drawing = this.svg.querySelector("svg");
    if (!drawing) return;
    drawing.querySelector(".ow-leads-drawn")?.remove();
    const group = document.createElementNS("http://www.w3.org/2000/svg", "g");
    group.classList.add("ow-leads-drawn");
    group.setAttribute("aria-hidden", "true");
    const { width, height } = drawing.viewBox.baseVal;
    const parts = [];
    for (const letter of ["B", "A"]) {
      const place = this.state.leads[letter];
      const point = this.points.find((p) => p.place === place) ?? this.socketOf(place);
      if (!point) continue;
      const { x, y } = point;
      const far = this.aside(point, (letter === "A") === (x > 60) ? -1 : 1, width);
      const role = letter.toLowerCase();
      const path = `M${x} ${y}C${(x + far) / 2} ${y} ${far} ${y} ${far} ${y + 24}L${far} ${height}`;
      const flag = letter === "A" ? `<circle class="ow-flag-a" cx="${far}" cy="${y + 22}" r="8.5"/>`
        : `<rect class="ow-flag-b" x="${far - 8}" y="${y + 14}" width="16" height="16" rx="2"/>`;
      const tip = letter === "A" ? `<circle class="ow-tip-a" cx="${x}" cy="${y}" r="5"/>`
        : `<circle class="ow-case-b" cx="${x}" cy="${y}" r="7"/><circle class="ow-tip-b" cx="${x}" cy="${y}" r="7"/>`;
      parts.push(`<path class="ow-case-${role}" d="${path}"/><path class="ow-cable-${role}" d="${path}"/>${tip}${flag}`
        + `<text class="ow-text-flag ow-letter-${role}" x="${far}" y="${y + 22}" text-anchor="middle">${letter}</text>`);
    }
    group.innerHTML = parts.join("");
    drawing.append(group);
  }

  work() {
    const drawing = this.svg.querySelector("svg");
    if (!drawing) return;
    drawing.querySelectorAll(".ow-turning").forEach((ring) => ring.remove());
    for (const [part, { what, share }] of Object.entries(this.state.working)) {
      for (const symbol of drawing.querySelectorAll(`g[class$="-part"][data-part="${part}"]`)) {
        if (what !== "turn" && what !== "crank") { symbol.classList.add("ow-working"); continue; }
        const { x, y, width, height } = symbol.getBBox();
        const ring = document.createElementNS("http://www.w3.org/2000/svg", "circle");
        ring.setAttribute("class", "ow-turning");
        ring.setAttribute("cx", x + width / 2);
        ring.setAttribute("cy", y + height / 2);
        ring.setAttribute("r", Math.min(width, height) / 2 + 4);
        ring.style.animationDuration = `${(1.2 / Math.max(Math.abs(share), 0.1)).toFixed(1)}s`;
        ring.style.animationDirection = share < 0 ? "reverse" : "normal";
        symbol.after(ring);
      }
    }
  }

  // -- what is shown --

  show(first = false) {
    const before = this.state;
    const state = this.state = this.model.get("state");
    const hadFocus = this.root.contains(document.activeElement);
    clearTimeout(this.waiting);
    for (const [name, control] of Object.entries(this.controls)) control.show(state.positions[name]);
    this.showControls();
    this.sheets.value = state.turnedTo;
    for (const [name, key] of Object.entries(this.tools)) key.setAttribute("aria-pressed", name === state.tool);
    const tool = this.fixed.tools.find((t) => t.name === state.tool);
    shown(this.leads.B.box, tool.leads === 2);
    if (tool.leads === 1) this.hand = "A";
    for (const [letter, lead] of Object.entries(this.leads)) {
      const place = state.leads[letter];
      const words = this.points?.find((p) => p.place === place)?.words;
      const above = this.socketOf(place) ? ", top of the fuse" : "";
      text(lead.where, place ? `on ${words ?? place + above}` : "not placed");
      lead.hand.setAttribute("aria-pressed", letter === this.hand);
      lead.lift.disabled = !place;
    }
    this.meter(state);
    this.leftList.replaceChildren(...state.left.map(({ label, places }, k) => element("li", {},
      `${label}: ${places} `, button("Read it", () => this.send({ do: "read", number: k + 1 })))));
    shown(this.leave, state.canLeave);
    shown(this.fetch, state.left.length > 0);
    shown(this.hold, state.holds);
    for (const key of [this.loom, this.warm]) shown(key, this.fixed.mayMoveLoom);
    text(this.sights, state.sights.join(" "));
    this.incidents.replaceChildren(...state.incidents.map((i) => element("p", { textContent: `${i}.` })));
    this.readings(state);
    this.hints.replaceChildren(...state.hints.shown.map((h) => element("p", { textContent: h })),
      element("p", { textContent: state.hints.price === null ? "There are no more hints."
        : `Hint ${state.hints.shown.length + 1} of ${state.hints.count} costs ${state.hints.price} marks.` }));
    shown(this.hint, state.hints.price !== null && !state.isHandedIn);
    shown(this.locked, state.isLocked);
    const proved = state.proof === null ? "Then prove it: join all, set the controls as the driver did, and note a reading." : `Proof: reading ${state.proof}.`;
    text(this.repaired, state.repaired.length ? `Repaired: ${state.repaired.join(", ")}. ${proved}`
      : "The first repair locks your conclusion. Then prove it: join all, set the controls as the driver did, and note a reading.");
    text(this.marks, state.marksText);
    shown(this.result, state.isHandedIn);
    shown(this.another, state.isHandedIn && state.isPractice);
    shown(this.sure, false);
    if (!first && state.isLocked && !before.isLocked) this.rows = state.conclusion.map((row) => [...row]);
    if (first || before.isLocked !== state.isLocked || before.isHandedIn !== state.isHandedIn) this.answers();
    else this.checkAll();
    for (const input of this.root.querySelectorAll(".ow-act button, .ow-act select, .ow-card section:nth-last-child(2) :is(button, select)")) {
      if (state.isHandedIn && ![this.soundKey, this.keysKey, this.goTo, this.whole].includes(input)) input.disabled = true;
    }
    this.describe();
    this.leadsDrawn();
    this.work();
    this.say(state.message || this.nextClick(), state.isWarning);
    if (!first && state.isHandedIn && !before.isHandedIn) this.result.scrollIntoView({ block: "nearest" });
    const now = document.activeElement;
    if (hadFocus && (now.disabled || !this.root.contains(now) || !now.checkVisibility())) this.home()?.node.focus({ preventScroll: true });
    if (!first) this.hear(before, state);
  }

  meter(state) {
    const { reading } = state;
    const isWord = reading && !reading.unit;
    this.display.classList.toggle("ow-word", Boolean(isWord));
    this.display.replaceChildren(reading ? reading.digits : "--",
      element("span", { className: "ow-unit", textContent: reading?.unit ?? "" }));
    const verdict = reading?.verdict;
    this.verdict.className = `ow-verdict ow-is-${verdict}`;
    this.verdict.innerHTML = verdict in SHAPES ? `<svg viewBox="0 0 16 16" width="16" height="16" aria-hidden="true">${SHAPES[verdict]}</svg>${verdict.toUpperCase()}` : "";
    text(this.sentence, state.sentence);
    text(this.held, state.held ? `lowest ${state.held[0]}, highest ${state.held[1]}` : "");
  }

  readings(state) {
    const row = (number, { leads, text: shows, remark }) => [
      element("span", { className: "ow-number", textContent: number }), element("span", { textContent: leads }),
      element("span", { className: "ow-value", textContent: shows }), element("span", { className: "ow-remark", textContent: remark })];
    const notes = state.notes.map((n) => element("li", {}, ...row(n.number, n)));
    if (!notes.length) notes.push(element("li", { className: "ow-none", textContent: "No readings noted yet. Choose a tool and touch two places." }));
    const told = JSON.stringify(state.notes);
    if (this.notes.dataset.told !== told) {
      this.notes.dataset.told = told;
      this.notes.replaceChildren(...notes);
      this.notes.scrollTop = this.notes.scrollHeight;
    }
    const isLive = state.reading && !state.isNoted && !state.isHandedIn;
    shown(this.live, Boolean(isLive));
    if (isLive) {
      const key = button("Note it", () => this.send({ do: "note" }), { className: "ow-note" });
      keyed(key, "N");
      this.live.replaceChildren(...row(state.notes.length + 1, { ...state.reading, remark: "on the meter now, not noted" }), key);
    }
  }

  nextClick() {
    const { tool, reading, isHandedIn } = this.state;
    if (reading || isHandedIn) return "";
    if (tool === "clamp") return "Click a wire on the drawing: the clamp goes round it.";
    if (tool === "look") return "Click what you want to look at.";
    return `Click a circle on the drawing: lead ${this.hand} goes there.`;
  }

  say(words, isWarning = false) {
    text(this.status, words);
    this.status.classList.toggle("ow-warning", isWarning);
  }

  hear(before, state) {
    if (!this.sound) return;
    const clicks = state.sights.filter((s) => s.endsWith(" clicks.") || s.endsWith(" buzzes."));
    if (clicks.length && state.sights.join() !== before.sights.join()) this.tone(60, 0.03, "square");
    if (state.reading?.pitch && state.readings !== before.readings) {
      this.tone(state.reading.pitch, 0.35, "sine");
    }
  }

  tone(pitch, seconds, type) {
    this.audio ??= new AudioContext();
    const { audio } = this;
    const now = audio.currentTime;
    const level = new GainNode(audio, { gain: 0 });
    level.gain.linearRampToValueAtTime(0.08, now + 0.02);
    level.gain.setValueAtTime(0.08, now + seconds);
    level.gain.linearRampToValueAtTime(0, now + seconds + 0.02);
    const source = new OscillatorNode(audio, { frequency: pitch, type });
    source.connect(level).connect(audio.destination);
    source.start(now);
    source.stop(now + seconds + 0.03);
    this.root.dataset.heard = pitch.toFixed(0);
  }

  // -- acts --

  send(operation) {
    const isLast = operation.do === "hand_in";
    this.say(isLast ? "Handing in ..." : "");
    clearTimeout(this.waiting);
    const unheard = () => this.say(
      "The notebook's kernel does not answer. Your work up to here is saved: run this cell again to go on.", true);
    this.waiting = setTimeout(unheard, isLast ? MARKING : PATIENCE);
    try { this.model.send(operation); } catch { unheard(); }
  }

  toggleSound() {
    this.sound = !this.sound;
    localStorage.setItem(SOUND, this.sound ? "on" : "off");
    this.showSound();
  }

  showSound() {
    text(this.soundKey, this.sound ? "Sound on" : "Sound off");
    this.soundKey.setAttribute("aria-pressed", this.sound);
  }

  toggleKeys() {
    shown(this.keys, this.keys.hidden);
    this.keysKey.setAttribute("aria-expanded", !this.keys.hidden);
  }

  key(event) {
    event.stopPropagation();
    if (event.type !== "keydown" || event.ctrlKey || event.metaKey || event.altKey) return;
    if (event.key === "Escape") {
      document.activeElement.blur();
      this.root.closest(".jp-Cell")?.focus();
      return;
    }
    const target = event.target;
    if (target.matches("select, input, textarea")) return;
    const inSheet = this.svg.contains(target);
    if (event.key.startsWith("Arrow") && inSheet) { this.walk(event.key); event.preventDefault(); return; }
    if (event.key === "Enter" && !inSheet) return;
    const part = this.focus.split(":")[0];
    const act = {
      q: () => this.place("A"), Enter: () => this.place("A"), w: () => this.place("B"),
      e: () => {
        if (part in this.fixed.plugs) this.send({ do: "plug", part });
        else if (part in this.state.positions) this.step(part);
        else this.say(`${part} cannot be opened or set.`);
      },
      t: () => {
        const names = this.fixed.tools.map((t) => t.name);
        this.send({ do: "use", tool: names[(names.indexOf(this.state.tool) + 1) % names.length] });
      },
      n: () => this.send({ do: "note" }), u: () => this.send({ do: "undo" }),
      s: () => this.toggleSound(), g: () => this.goTo.focus(), f: () => this.whole.click(), "?": () => this.toggleKeys(),
    }[event.key.length === 1 ? event.key.toLowerCase() : event.key];
    if (!act || (this.state.isHandedIn && !["?", "f", "g", "s"].includes(event.key))) return;
    event.preventDefault();
    act();
  }

  walk(key) {
    const from = this.home();
    const along = key === "ArrowUp" || key === "ArrowDown";
    const sign = key === "ArrowDown" || key === "ArrowRight" ? 1 : -1;
    let best = null;
    for (const p of this.points) {
      const ahead = sign * (along ? p.y - from.y : p.x - from.x);
      const aside = Math.abs(along ? p.x - from.x : p.y - from.y);
      if (ahead < 4 || p.place === from.place) continue;
      const cost = ahead + (along ? 4 : 2) * aside;
      if (!best || cost < best.cost) best = { place: p.place, cost };
    }
    if (best) this.select(best.place, true);
  }
}

export default {
  render({ model, el }) {
    const root = document.createElement("div");
    el.append(root);
    new Page(model, root);
  },
};
