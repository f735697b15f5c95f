// The card: what to do or to tell next, with its cautions, its reason and the way there.

// The stamps of what the terminal has no label for.
const STAMPS = {
  complaint: "On the phone",
  make_safe: "Safety",
  site: "The place",
  setup: "The unit",
  part: "The unit",
  question: "Check",
  choose: "Other work",
  which_end: "Finish",
  to_whom: "Pass on",
  leaving: "Before you leave",
  call_back: "Call back",
  stuck: "Does not fit",
  closed: "Closed",
};
const stampOf = (words, kind) => STAMPS[kind] ?? words.visit.labels[kind] ?? "";

class Card extends Frame {
  visitPage() {
    const { job, words } = this;
    const { kind } = job.prompt;
    const more = kind !== "closed" && job.advice;
    return [
      h(
        "section",
        { class: `card ${kind}`, "aria-labelledby": "head" },
        h("p", { class: "stamp" }, stampOf(words, kind)),
        this.heading(),
        this.alarmBox(),
        this.notes(),
        this.running(),
        this.actBody(),
        this.question(),
        this.answers(),
      ),
      h(
        "nav",
        { "aria-label": "Visit" },
        this.button("Undo", () => this.act(() => job.undo(), "Taken back."), { disabled: !job.canUndo }),
        this.button("Save file", () => this.save()),
        this.canShare() && this.button("Share", () => this.share()),
      ),
      more && this.causes(),
      more && this.otherActs(),
      this.figures(),
      this.foundSection(),
      this.noteSection(),
      this.recordSection(),
      this.storageNote(),
      this.lampSection(),
      h("nav", { "aria-label": "All visits" }, this.button("All visits", () => this.act(() => (this.job = null)))),
    ];
  }

  canShare() {
    const probe = typeof navigator.canShare === "function" && typeof File === "function";
    return probe && navigator.canShare({ files: [this.file()] });
  }

  heading() {
    return h("h1", { id: "head", tabindex: "-1" }, this.title());
  }

  title() {
    const { job, model, words } = this;
    const { kind, subject, valued } = job.prompt;
    const told = words.visit.questions;
    if (valued) return valued.act.name;
    switch (kind) {
      case "complaint":
        return told[job.state.complaints.length ? "complaint_more" : "complaint"];
      case "site":
        return model.site.get(subject).question;
      case "part":
        return fillIn(words, told.part, { part: model.setups.variables.get(subject).name });
      case "question":
        return model.checks.get(subject).name;
      case "leaving":
        return words.visit.ends[subject];
      case "closed":
        return words.visit.ends[subject];
      default:
        return told[kind];
    }
  }

  // What a number was taken to mean, rules that hold, answers that fit badly.
  notes() {
    const { job, model, words } = this;
    const out = [];
    const last = standingEvents(job.events).filter((row) => row.event !== "arrived").pop();
    const reading = job.state.readings[job.state.readings.length - 1];
    if (last && last.event === "read" && reading) {
      out.push(h("p", { class: "told" }, h("strong", null, "Read: "), reading.reading.says));
      if (reading.reading.challenge) out.push(h("p", { class: "told" }, reading.reading.challenge.says));
    }
    if (!["complaint", "make_safe", "site", "setup", "part"].includes(job.prompt.kind)) {
      for (const { rule } of job.fired) {
        if (["make_safe", "outside", "escalates", "duty", "doubts"].includes(rule.kind)) {
          out.push(h("p", { class: rule.kind === "make_safe" ? "caution" : "told" }, h("strong", null, `${words.notes[rule.kind]}: `), rule.reason));
        }
      }
    }
    const conflict = job.advice?.contradiction;
    if (conflict) {
      const told = words.contradiction;
      const [suspect] = conflict.suspects;
      const text = conflict.rareFault
        ? fillIn(words, told.rare, { bits: conflict.bits, fault: model.faults.get(conflict.rareFault).name })
        : suspect
          ? fillIn(words, told.misread, { bits: conflict.bits, suspect: this.observationName(suspect[0]) })
          : fillIn(words, told.together, { bits: conflict.bits });
      out.push(h("p", { class: "told" }, h("strong", null, "Look again: "), text));
      if (!conflict.rareFault && suspect && observationOf(model, suspect[0])) out.push(this.anew(suspect[0]));
    }
    return out;
  }

  observationName(name) {
    return this.model.complaints.get(name)?.name ?? nameOf(this.model, name);
  }

  // Buttons that answer an observation anew.
  anew(name) {
    const { job } = this;
    const outcomes = [...observationOf(this.model, name).outcomes];
    return this.section(
      `anew-${name}`,
      `Answer anew: ${this.observationName(name)}`,
      outcomes.map(([id, text]) => this.button(text, () => this.act(() => job.record({ event: "saw", observation: name, outcome: id })))),
    );
  }

  running() {
    const { job, model, words } = this;
    const { running, subject, route, kind } = job.prompt;
    if (!running || running === subject) return null;
    const check = model.checks.get(running);
    const moves = route && route.moves.length;
    return h(
      "div",
      { class: "told" },
      h("p", null, h("strong", null, "Waiting: "), `${check.name}, about ${minutesText(check.waiting_minutes, 0)}.`),
      moves || kind === "repair" ? h("p", null, words.visit.lines.ends_wait) : null,
      this.button("The wait is over: look now", () => this.act(() => job.turn({ lookNow: true }))),
    );
  }

  actBody() {
    const { job, model, words } = this;
    const { valued, route, refill, meanwhile, subject, kind, text } = job.prompt;
    if (kind === "make_safe") return this.cautionList([model.rules.get(subject).reason]);
    if (kind === "stuck") return h("p", null, text);
    if (kind === "setup") return this.usual();
    if (kind === "leaving") return this.wayOut();
    if (kind === "closed") return this.summary();
    if (!valued) return null;
    const { act } = valued;
    const check = model.checks.get(act.id);
    const repair = model.repairs.get(act.id);
    const lines = words.visit.lines;
    const shownWay = kind !== "finish" && kind !== "escalate";
    return [
      this.cautionList(act.cautions),
      h(
        "dl",
        null,
        shownWay && this.row("Takes", minutesText(act.minutes, act.waiting)),
        this.row("Why", this.why(valued)),
        repair && repair.parts.length > 0 && this.row("Parts", this.partList(repair)),
        refill.some((m) => m) && this.row("Brine", fillIn(words, lines.refill, { time: minutesText(...refill) })),
        route && route.moves.length > 0 && this.row("First", this.wayList(route)),
        check && check.tools.length > 0 && this.row("Bring", check.tools.join(", ")),
        act.how && this.row("Do", act.how),
        repair && repair.also_do && this.row("Also", repair.also_do),
        meanwhile.length > 0 &&
          this.row("Wait", [
            `${minutesText(check.waiting_minutes, 0)}; `,
            fillIn(words, lines.meanwhile, { checks: meanwhile.slice(0, 2).map((id) => model.checks.get(id).name).join("; ") }),
          ]),
      ),
      shownWay && cautionsOf(act).length > 0 ? h("p", { class: "fine" }, words.local_codes) : null,
    ];
  }

  row(term, what) {
    return [h("dt", null, term), h("dd", null, what)];
  }

  cautionList(cautions) {
    return cautions.map((text) => h("p", { class: "caution" }, h("strong", null, "Caution: "), text));
  }

  // The moves in order, each caution where it first matters and before its move.
  wayList(route) {
    const told = new Set();
    return h(
      "ol",
      null,
      route.moves.map((id) => {
        const move = this.model.setups.moves.get(id);
        const fresh = move.cautions.filter((text) => !told.has(text));
        fresh.forEach((text) => told.add(text));
        return h("li", null, this.cautionList(fresh), move.name);
      }),
    );
  }

  // A part with the shop's code for it, if it has one.
  partName(part) {
    const { parts, codes } = this.model;
    const { name } = parts.get(part);
    return codes.has(part) ? `${name} (${codes.get(part)})` : name;
  }

  partList(repair) {
    const { words, model, job } = this;
    const told = words.visit.parts;
    const at = (part) => {
      if (job.state.partsMissing.has(part)) return told.missing;
      if (job.state.partsHere.has(part)) return told.here;
      const chance = model.parts.get(part).in_van;
      if (chance === 0 || chance === 1) return told[chance ? "in_van" : "not_in_van"];
      return fillIn(words, told.maybe, { share: shareText(chance) });
    };
    return h("ul", null, repair.parts.map((part) => h("li", null, `${this.partName(part)}, ${at(part)}`)));
  }

  why(valued) {
    const { job, words, model } = this;
    const { advice } = job;
    if (valued.act.id === advice.next.act.id) return reasonText(words, advice.reason);
    if (job.prompt.running && job.focus.act !== valued.act.id) return words.visit.said.fits;
    const gap = Math.abs(valued.expectedCost - advice.next.expectedCost);
    const saves = moneyText(gap, model.about.currency);
    return fillIn(words, words.visit.said.taken, { name: advice.next.act.name, saves });
  }

  usual() {
    const { variables } = this.model.setups;
    return h(
      "ul",
      null,
      this.job.prompt.variables.map((name) => {
        const one = variables.get(name);
        return h("li", null, `${one.name}: ${one.values.get(one.service)}`);
      }),
    );
  }

  wayOut() {
    const { route } = this.job.prompt;
    if (!route) return h("p", { class: "caution" }, this.words.visit.lines.unknown_setup);
    return route.moves.length ? h("dl", null, this.row("First", this.wayList(route))) : null;
  }

  summary() {
    const { state } = this.job;
    const { ended } = state;
    const repairs = state.done.map((id) => this.model.repairs.get(id));
    const facts = [
      ended.to && this.row("Passed on to", ended.to),
      ended.call_back && this.row("Call back on", ended.call_back),
      repairs.length > 0 && this.row("Repaired", h("ul", null, repairs.map((one) => h("li", null, one.name)))),
      ended.still_open.length > 0 &&
        this.row("Still open", h("ul", null, ended.still_open.map((id) => h("li", null, this.words.visit.leaving[id] ?? id)))),
    ].filter(Boolean);
    return [
      facts.length ? h("dl", null, facts) : null,
      h("p", null, "Save or share the file now: the office takes it in. Undo opens the visit again."),
    ];
  }
}
