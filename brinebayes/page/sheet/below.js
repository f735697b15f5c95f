// What stands below the card: causes, other work, figures, notes, the record.

class Sheet extends Answers {
  causes() {
    const { advice } = this.job;
    const shown = advice.faults.filter(([, share]) => share >= 0.01).slice(0, 12);
    const line = ([id, share]) =>
      h("tr", null, h("th", { scope: "row" }, this.model.faults.get(id).name), h("td", null, shareText(share)), h("td", { class: "bar", "aria-hidden": "true" }, "▮".repeat(Math.max(1, Math.round(share * 20)))));
    return this.section(
      "causes",
      "Likely causes",
      h("p", null, `The unit works now: ${shareText(advice.works)}.`),
      this.estimated(advice),
      h("table", null, h("caption", null, "Share of units like this with each cause"), h("tbody", null, shown.map(line))),
      advice.faults.length > shown.length && h("p", null, `and ${advice.faults.length - shown.length} less likely ones`),
    );
  }

  // How good the shares are where they are estimated.
  estimated({ effectiveDraws: draws }) {
    if (draws === Infinity) return null;
    const values = { draws: wholeNumber(draws), error_share: 0.5 / Math.sqrt(draws) };
    return h("p", null, fillIn(this.words, this.words.estimated, values));
  }

  otherActs() {
    const { job, model } = this;
    const { ranked, now } = job.advice;
    const shown = ranked.slice(0, 12);
    return this.section(
      "acts",
      "Other work",
      shown.map(({ act, expectedCost }) =>
        this.button(`${act.name} (${minutesText(act.minutes, act.waiting)}; ${moneyText(expectedCost, model.about.currency)} to the end)`, () =>
          this.act(() => job.turn({ act: act.id })),
        ),
      ),
      this.button("Finish the visit", () => this.act(() => job.leave({}))),
      this.button("Leave it safe and pass it on", () => this.act(() => job.leave({ end: "escalated" }))),
      now.blocked.size > 0 && h("h2", null, "Held back or left out"),
      this.heldBack(now.blocked),
    );
  }

  // Each reason once, with what it holds back.
  heldBack(blocked) {
    const { checks, repairs } = this.model;
    const by = new Map();
    for (const [id, why] of blocked) by.set(why, [...(by.get(why) ?? []), (checks.get(id) ?? repairs.get(id))?.name ?? id]);
    return [...by].map(([why, names]) => [h("p", null, why), h("ul", null, names.map((name) => h("li", null, name)))]);
  }

  // Figures of the place that make readings sharper.
  figures() {
    const { job, model } = this;
    if (!model.measures.size || job.prompt.kind === "closed") return null;
    const tell = (measure) => (text) => job.record({ event: "measured", measure, text });
    const one = ([id, measure]) => {
      const told = job.state.measures.get(id);
      const label = told ? `${measure.question} (told: ${told})` : measure.question;
      if (!measure.words.size) return this.wordForm(`figure-${id}`, label, "", tell(id), measure.unit);
      const buttons = [...measure.words].map(([word, { name }]) => this.button(name, () => this.act(() => tell(id)(word)), { "aria-pressed": String(told === word) }));
      return h("fieldset", null, h("legend", null, label), buttons);
    };
    return this.section("figures", "Figures of the place", h("p", null, "With these a reading says more. All may be left open."), [...model.measures].map(one));
  }

  noteSection() {
    const { job } = this;
    const note = (text) => text.trim() && job.record({ event: "note", text: text.trim() });
    const keepFocus = job.focus;
    return this.section(
      "note",
      "Note",
      h("ul", null, job.state.notes.map((text) => h("li", null, text))),
      this.wordForm("note-text", "In your own words; it changes no advice", "", (text) => {
        note(text);
        job.turn(keepFocus);
      }),
    );
  }

  // What was found to be the cause, for the office; no advice leans on it.
  foundSection() {
    const { job, model, words } = this;
    if (job.prompt.kind === "closed") return null;
    const order = job.advice ? job.advice.faults.map(([id]) => id) : [...model.faults.keys()];
    const pick = h("select", { id: "cause" }, order.map((id) => h("option", { value: id }, model.faults.get(id).name)));
    const how = h("select", { id: "how" }, HOWS.map((id) => h("option", { value: id }, words.cases.hows[id])));
    const focus = job.focus;
    const done = () => {
      job.record({ event: "found", fault: pick.value, how: how.value });
      job.turn(focus);
    };
    const told = [...job.state.found].map(([id, way]) => h("li", null, `${model.faults.get(id).name}: ${words.cases.hows[way] ?? ""}`));
    return this.section(
      "found",
      "Cause that was found",
      h("ul", null, told),
      h("label", { for: "cause", class: "field" }, "The cause, the likeliest first"),
      pick,
      h("label", { for: "how", class: "field" }, "How it is known"),
      how,
      this.button("Record it", () => this.act(done, "Noted.")),
    );
  }

  recordSection() {
    const rows = standingEvents(this.job.events);
    return this.section("record", "What was recorded", h("ol", null, rows.map((row) => h("li", null, this.inWords(row)))));
  }

  inWords(row) {
    const { model } = this;
    const name = this.words.visit.events[row.event] ?? row.event;
    const act = (id) => (model.checks.get(id) ?? model.repairs.get(id))?.name ?? id;
    switch (row.event) {
      case "site":
        return `${model.site.get(row.condition).name}: ${model.site.get(row.condition).values.get(row.value).name}`;
      case "complaint":
        return `${name}: ${model.complaints.get(row.complaint).name}`;
      case "saw":
        return `${this.observationName(row.observation)}: ${row.observation === PROOF ? row.outcome : outcomeName(model, row.observation, row.outcome)}`;
      case "read":
        return `${this.observationName(row.observation)}: ${row.text}`;
      case "measured":
        return `${model.measures.get(row.measure).name}: ${row.text}`;
      case "done":
        return `${name}: ${act(row.repair)}`;
      case "could_not":
        return `${name}: ${act(row.act)}`;
      case "arrived":
        return row.act ? `the way to: ${act(row.act)}` : name;
      case "part_missing":
      case "part_here":
        return `${name}: ${this.partName(row.part)}`;
      case "found":
        return `${name}: ${model.faults.get(row.fault).name}`;
      case "note":
        return `${name}: ${row.text}`;
      case "skipped":
        return `${name}: ${row.what}`;
      default:
        return name;
    }
  }
}
