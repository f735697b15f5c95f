// The answers below a card's question: buttons, a reading, a list to tick.

const SKIPS = {
  complaint: "Nothing, or nothing more",
  site: "Don’t know",
  setup: "Not sure: assume the worst",
  part: "Not sure",
  question: "Could not see",
  check: "Could not check",
  prove: "Could not prove",
};

class Answers extends Card {
  question() {
    const { job, model, words } = this;
    const { kind, observation, subject } = job.prompt;
    const asked = {
      check: () => model.checks.get(subject).observations.get(observation).question,
      question: () => model.checks.get(subject).observations.get(observation).question,
    }[kind];
    const told = asked ? asked() : words.visit.questions[kind];
    const titled = ["complaint", "make_safe", "site", "setup", "part", "which_end", "to_whom", "leaving", "call_back", "stuck", "closed", "choose"];
    return titled.includes(kind) ? null : h("h2", { id: "asked" }, told);
  }

  optionText({ id, text }) {
    const told = this.words.visit;
    if (this.job.prompt.kind === "which_end") return told.ends[id];
    if (id.startsWith("part_missing:")) return fillIn(this.words, told.options.part_missing, { part: text });
    return text || told.options[id];
  }

  answers() {
    const { job } = this;
    const { kind, options } = job.prompt;
    if (kind === "leaving") return this.leavingForm();
    if (kind === "to_whom") return this.wordForm("to", this.title(), job.prompt.text, (to) => job.leave({ to }));
    if (kind === "call_back") {
      return this.wordForm("days", "Days", job.prompt.text, (text) => {
        const days = Number(text);
        if (!Number.isInteger(days) || days < 1 || days > 365) throw new UsageError("write a number of days, 1 to 365");
        job.leave({ days });
      });
    }
    if (kind === "stuck" || kind === "closed") return null;
    const buttons = options.map((one) => this.button(this.optionText(one), () => this.act(() => job.answer(one.id)), { class: "answer" }));
    return [
      h("div", { class: "answers", role: "group", "aria-labelledby": this.titled() ? "head" : "asked" }, buttons),
      this.readingForm(),
      job.mayWait && this.button("Begin it and wait", () => this.act(() => job.wait()), { class: "quiet" }),
      SKIPS[kind] && this.button(SKIPS[kind], () => this.act(() => job.skip()), { class: "quiet" }),
      kind === "site" && this.button("No more about the place", () => this.act(() => job.enough()), { class: "quiet" }),
      job.focus.act && this.button("Back to the advised work", () => this.act(() => job.turn({})), { class: "quiet" }),
    ];
  }

  titled() {
    return !document.getElementById("asked") && !this.question();
  }

  readingForm() {
    const method = this.job.mayRead;
    if (!method) return null;
    const hint = this.howToWrite(method);
    return this.wordForm("reading", `Or the number you read, with its unit (${hint})`, "", (text) => {
      if (!text.trim()) throw new UsageError("write the number that was read, with its unit");
      this.job.read(text);
    }, method.kind === "timed_bucket" || method.kind === "level_drop" ? "" : method.unit);
  }

  // An example of what is read in more than one number, in the units that the shop reads in.
  howToWrite({ kind, unit }) {
    const metric = this.model.metric.includes(unit);
    const how = {
      level_drop: ["0.5 in in 10 min", "1.5 cm in 10 min"],
      timed_bucket: ["0.6 gpm, or 1 gal in 95 s", "2.4 L/min, or 5 L in 120 s"],
      meter_count: ["3 gal of 5 gal", "12 L of 20 L"],
    };
    return how[kind]?.[metric ? 1 : 0] ?? `a number in ${unit}`;
  }

  wordForm(id, label, value, done, placeholder = "") {
    const input = h("input", { id, value, placeholder, autocomplete: "off", autocapitalize: "off", spellcheck: "false" });
    const onsubmit = (event) => {
      event.preventDefault();
      this.act(() => done(input.value));
    };
    return h("form", { onsubmit, class: "word" }, h("label", { for: id, class: "field" }, label), input, h("button", { type: "submit" }, "Enter"));
  }

  leavingForm() {
    const { job } = this;
    const boxes = job.prompt.options.map(({ id }) => h("input", { type: "checkbox", id: `left-${id}`, value: id }));
    const labels = job.prompt.options.map(({ id }, k) => h("label", { for: `left-${id}`, class: "tick" }, boxes[k], h("span", null, this.words.visit.leaving[id])));
    const done = () => job.leave({ stillOpen: boxes.filter((box) => !box.checked).map((box) => box.value) });
    return [
      h("fieldset", null, h("legend", null, "Tick what is so"), labels),
      this.button("Leave", () => this.act(done), { class: "main" }),
      this.button("Back to the visit", () => this.act(() => job.turn({})), { class: "quiet" }),
    ];
  }
}
