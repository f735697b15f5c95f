// The sheet as a document. Everything that comes from a model, a file or a keyboard goes in as text.

// Milliseconds for the screen to show that something is being worked out.
const SHOWN_AFTER = 30;
// Milliseconds without a tap after which a browser that cannot tell counts as idle.
const IDLE_AFTER = 500;

function h(tag, attributes, ...children) {
  const node = document.createElement(tag);
  for (const [name, value] of Object.entries(attributes ?? {})) {
    if (name.startsWith("on")) node.addEventListener(name.slice(2), value);
    else if (value === true) node.setAttribute(name, "");
    else if (value !== false && value !== null && value !== undefined) node.setAttribute(name, value);
  }
  for (const child of children.flat(9)) {
    if (child === null || child === undefined || child === false || child === "") continue;
    // A number stays with its unit at the end of a line.
    node.append(typeof child === "string" ? child.replace(/(\d) (?=%|min\b)/g, "$1\u00a0") : child);
  }
  return node;
}

class Frame {
  constructor(root, { model, routes, words, store, clock, random }) {
    Object.assign(this, { root, model, routes, words, store, clock, random });
    this.job = null;
    this.open = new Set();
    this.message = "";
    this.kept = true;
    // What the first advice takes longest for.
    this.ahead = [() => treesFor(model, [], []), () => advise(model, routes, fold(model, []))];
  }

  // --- what happens ----------------------------------------------------------------------------

  // Do something that may take a moment, and show what came of it.
  act(change, message = "") {
    this.say("Working…");
    setTimeout(() => {
      this.message = message;
      this.alarm = "";
      try {
        change();
        this.keep();
      } catch (error) {
        if (!(error instanceof UsageError || error instanceof UnsafeRoute || error instanceof FileError)) throw error;
        this.alarm = error.message;
      }
      this.show();
    }, SHOWN_AFTER);
  }

  keep() {
    if (this.job) this.kept = this.store.put(this.job.visit);
  }

  say(text) {
    document.getElementById("status").textContent = text;
  }

  begin(visit) {
    this.job = new Job(this.model, this.routes, this.words, visit, this.clock);
    this.store.setting("last", visit.id);
  }

  fresh() {
    this.begin(newVisit(this.model, this.clock(), this.random()));
  }

  // Go on with a visit; one that another model advised is checked against this one first.
  resume(visit) {
    const wrong = misfits(this.model, visit);
    if (wrong.length) {
      const [k, why] = wrong[0];
      throw new FileError(
        `This page’s model cannot go on with that visit (entry ${k + 1}: ${why}). ` +
          "Nothing was changed; go on with the page that it was begun with.",
      );
    }
    const last = [...visit.rows].reverse().find((row) => row.event === "model");
    const before = last ?? visit.model;
    const now = modelIs(this.model);
    if (!visit.id) visit.id = newVisit(this.model, this.clock(), this.random()).id;
    this.begin(visit);
    if (visit.torn) this.message = "The last line of that file was cut off and is not read. ";
    if (before && before.hash !== now.hash) {
      this.job.record({ event: "model", ...now });
      this.message = "The model has changed since: every name still exists, the advice is the new one’s. ";
    }
  }

  async openFile(file) {
    const text = await file.text();
    this.act(() => this.resume(this.newer(parseVisit(text))), "Opened from the file.");
  }

  // Of a file and what is kept here under the same id, the one that goes further.
  newer(visit) {
    const kept = this.store.all().find((one) => one.visit && visit.id && one.visit.id === visit.id);
    if (!kept) return visit;
    const [mine, theirs] = [kept.visit.rows, visit.rows].map((rows) => rows.map((row) => JSON.stringify(row)));
    const [short, long] = mine.length > theirs.length ? [theirs, mine] : [mine, theirs];
    if (!short.every((row, k) => row === long[k])) {
      throw new FileError("This visit is kept here already and went on differently. Save that one and remove it first.");
    }
    return mine.length > theirs.length ? kept.visit : visit;
  }

  file() {
    const { visit } = this.job;
    const name = `visit-${visit.at.slice(0, 10)}-${visit.id.slice(0, 6)}.jsonl`;
    return new File([visitText(visit)], name, { type: "application/x-ndjson" });
  }

  save(file = this.file()) {
    const link = h("a", { href: URL.createObjectURL(file), download: file.name });
    document.body.append(link);
    link.click();
    link.remove();
    setTimeout(() => URL.revokeObjectURL(link.href), 10000);
    this.say(`Saved as ${file.name}.`);
  }

  async share() {
    try {
      await navigator.share({ files: [this.file()], title: "Visit" });
    } catch (error) {
      if (error.name !== "AbortError") this.save();
    }
  }

  // --- the document ----------------------------------------------------------------------------

  show() {
    for (const node of this.root.querySelectorAll("details[id]")) {
      if (node.open) this.open.add(node.id);
      else this.open.delete(node.id);
    }
    const parts = this.job ? this.visitPage() : this.frontPage();
    this.root.replaceChildren(...parts.filter(Boolean));
    const where = document.getElementById("where");
    where.textContent = this.job ? this.keptWhere() : this.model.about.name;
    this.say(this.message);
    window.scrollTo(0, 0);
    this.root.querySelector("h1")?.focus();
    this.workAhead();
  }

  // What will be needed is worked out before it is asked for, while nobody waits.
  workAhead() {
    if (this.job?.advice) this.ahead = this.job.ahead();
    const idle = window.requestIdleCallback ?? ((then) => setTimeout(then, IDLE_AFTER));
    const { ahead } = this;
    const next = () => {
      if (ahead !== this.ahead || !ahead.length) return;
      try {
        ahead.shift()();
      } catch {
        // It will be said when it is asked for.
      }
      idle(next);
    };
    idle(next);
  }

  keptWhere() {
    const when = this.clock().toTimeString().slice(0, 5);
    if (!this.store.lasting || !this.kept) return "Not kept by this browser: save the file before you close.";
    return `Kept in this browser at ${when}. Save the file to keep it for good.`;
  }

  button(text, onclick, more = {}) {
    return h("button", { type: "button", onclick, ...more }, text);
  }

  section(id, title, ...children) {
    return h("details", { id, open: this.open.has(id) }, h("summary", null, title), h("div", null, children));
  }

  frontPage() {
    const visits = this.store.all();
    const input = h("input", { type: "file", id: "file", accept: ".jsonl,.json,.txt,application/x-ndjson" });
    input.addEventListener("change", () => input.files[0] && this.openFile(input.files[0]));
    return [
      h(
        "section",
        { class: "card" },
        h("p", { class: "stamp" }, "Job sheet"),
        h("h1", { tabindex: "-1" }, "Visits"),
        this.alarmBox(),
        this.button("Begin a new visit", () => this.act(() => this.fresh()), { class: "main" }),
        visits.length ? h("h2", null, "Kept in this browser") : h("p", null, "No visit is kept in this browser."),
        h("ul", { class: "plain" }, visits.map((one) => h("li", null, this.keptVisit(one)))),
        h("label", { for: "file", class: "field" }, "Open a visit file"),
        input,
      ),
      this.storageNote(),
      new FieldSheet(this).section(),
      this.lampSection(),
    ];
  }

  keptVisit({ key, visit, damaged, why }) {
    if (damaged !== undefined) {
      return [
        h("p", null, `A visit kept here cannot be read (${why}). Nothing of it was thrown away.`),
        this.button("Save it as it is", () => this.save(new File([damaged], "visit-damaged.txt"))),
      ];
    }
    const said = visit.rows.find((row) => row.event === "complaint");
    const name = said ? (this.model.complaints.get(said.complaint)?.name ?? said.complaint) : "nothing said yet";
    const ended = visit.rows.some((row) => row.event === "ended") ? "closed" : "open";
    const remove = () => {
      if (confirm("Remove this visit from this browser? What was not saved as a file is lost.")) {
        this.act(() => this.store.remove(key));
      }
    };
    return [
      this.button(`${visit.at.slice(0, 16).replace("T", " ")} UTC · ${name} · ${ended}`, () => this.act(() => this.resume(visit))),
      this.button("Remove", remove, { class: "small" }),
    ];
  }

  storageNote() {
    return this.section(
      "kept",
      "What is kept where",
      h("p", null, "This page works without a network and sends nothing anywhere."),
      h(
        "p",
        null,
        this.store.lasting
          ? "Each answer is kept at once in this browser, on this device, under this page’s address. It lasts through a reload, a closed tab and an empty battery, until somebody clears the browser’s data; some browsers clear it by themselves."
          : "This browser keeps nothing for a page opened like this. Save the visit as a file before you close it.",
      ),
      h("p", null, "A saved file is for good: the office takes it in, and this page opens it again."),
      h("p", { class: "fine" }, `Model: ${this.model.about.name}, version ${this.model.about.version}, ${this.model.hash.slice(0, 12)}.`),
    );
  }

  lampSection() {
    const now = document.documentElement.dataset.lamp ?? "auto";
    const pick = (value, text) =>
      this.button(text, () => this.act(() => setLamp(this.store, value)), { "aria-pressed": String(now === value) });
    return this.section("lamp", "Paper and lamp", pick("auto", "As the device"), pick("sun", "Bright paper"), pick("dark", "Cellar lamp"));
  }

  alarmBox() {
    return this.alarm ? h("p", { class: "alarm", role: "alert" }, h("strong", null, "Not taken: "), this.alarm) : null;
  }
}

function setLamp(store, value) {
  if (value === "auto") delete document.documentElement.dataset.lamp;
  else document.documentElement.dataset.lamp = value;
  store.setting("lamp", value);
}
