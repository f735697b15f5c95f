// One visit on the page: what was recorded, what stands, what is asked next, what an answer means.
// Nothing here touches the document.

class Job {
  constructor(model, routes, words, visit, clock) {
    Object.assign(this, { model, routes, words, visit, clock });
    this.focus = { ...NO_FOCUS };
    this.refresh();
  }

  get events() {
    return this.visit.rows;
  }

  refresh() {
    this.state = fold(this.model, this.events);
    this.fired = firedRules(this.model, this.state);
    this.advice = null;
    this.trouble = "";
    this.prompt = this.next();
  }

  // The setup to plan from; null if what was told of it is not safe.
  get start() {
    return attemptRoute(() => standingSetup(this.model, this.routes, this.state));
  }

  next() {
    const { model, routes, state, fired, focus } = this;
    if (state.ended) return prompt("closed", { subject: state.ended.end });
    if (focus.leaving) return leavePrompt(model, routes, state, fired, focus.leaving, this.start);
    const first = firstQuestion(model, routes, state, fired, focus);
    if (first) return first;
    try {
      this.advice ??= advise(model, routes, state);
    } catch (error) {
      const known = [EvidenceConflict, UnsafeRoute, UsageError, TooLarge].some((kind) => error instanceof kind);
      if (!known) throw error;
      this.trouble = error instanceof EvidenceConflict ? this.conflict(error) : error.message;
      return prompt("stuck", { text: this.trouble });
    }
    return actPrompt(this.advice.now, this.advice.ranked, focus);
  }

  // What the next advice may take long for: [function].
  ahead() {
    const { kind, subject } = this.prompt;
    if (kind !== "repair") return [];
    const { done, seen } = this.advice.now.question;
    return [() => treesFor(this.model, [...done, subject], seen.map((one) => [one.observation, one.epoch]))];
  }

  conflict() {
    return "What was seen cannot all be so. Take back the last answer, or give a doubtful one anew.";
  }

  // Record events; throws UsageError, and records nothing, if the model cannot take them.
  record(...events) {
    fold(this.model, [...this.events, ...events]);
    const at = timeText(this.clock());
    const advised = this.advice ? this.advice.next.act.id : "";
    for (const event of events) this.visit.rows.push({ ...event, at, ...(advised ? { advised } : {}) });
    this.focus = { ...NO_FOCUS };
    this.refresh();
  }

  turn(focus) {
    this.focus = { ...NO_FOCUS, ...focus };
    this.prompt = this.next();
  }

  get canUndo() {
    return lastStep(standingEvents(this.events)).length > 0;
  }

  undo() {
    this.record({ event: "undo" });
  }

  // That the way of the act on the screen was walked, and the brine brought back for it.
  way() {
    const { valued, refill } = this.prompt;
    if (!valued) return [];
    const setup = namedSetup(this.routes, valued.act.end);
    const walked = { event: "arrived", act: valued.act.id, setup };
    return refill.some((minutes) => minutes) ? [{ event: "refilled" }, walked] : [walked];
  }

  answer(id) {
    const { kind, subject, observation } = this.prompt;
    const saw = { event: "saw", observation, outcome: id };
    switch (kind) {
      case "complaint":
        return this.record({ event: "complaint", complaint: id });
      case "make_safe":
        return this.record({ event: "heeded", rule: subject });
      case "site":
        return this.record({ event: "site", condition: subject, value: id });
      case "setup": {
        const setup = Object.fromEntries(this.routes.toService);
        if (id === "as_usual") return this.record({ event: "arrived", act: "", setup });
        return this.turn({ parts: this.prompt.variables });
      }
      case "part":
        return this.nextPart({ event: "setup", variable: subject, value: id });
      case "check":
      case "prove":
        return this.record(...this.way(), saw);
      case "question":
        return this.record(saw);
      case "repair":
      case "fetch":
        return this.repair(id);
      case "finish":
        return this.leave({});
      case "escalate":
      case "licensed":
        return this.leave({ end: "escalated", act: kind === "licensed" ? subject : "" });
      case "choose":
        return this.turn({ act: id });
      case "which_end":
        return this.leave({ end: id });
      default:
        return undefined;
    }
  }

  nextPart(event) {
    const parts = this.focus.parts.slice(1);
    if (event) this.record(event);
    if (!parts.length && !event && !this.state.setup.size) return this.record({ event: "skipped", what: "setup" });
    return this.turn({ parts });
  }

  repair(id) {
    const { subject } = this.prompt;
    if (id === "done") return this.record(...this.way(), { event: "done", repair: subject });
    if (id === "could_not" || id === "later") return this.record({ event: "could_not", act: subject });
    if (id === "part_here") {
      const { parts } = this.model.repairs.get(subject);
      const missing = parts.filter((part) => this.state.partsMissing.has(part));
      return this.record(...missing.map((part) => ({ event: "part_here", part })));
    }
    return this.record({ event: "part_missing", part: id.slice("part_missing:".length) });
  }

  read(text) {
    const { kind, observation } = this.prompt;
    const way = kind === "check" ? this.way() : [];
    this.record(...way, { event: "read", observation, text });
  }

  get mayRead() {
    const { kind, observation } = this.prompt;
    if (kind !== "check" && kind !== "question") return null;
    return observationOf(this.model, observation).reading;
  }

  // The question on the screen cannot be answered, or the act not be done.
  skip() {
    const { kind, subject, observation } = this.prompt;
    const skipped = (what) => this.record({ event: "skipped", what });
    switch (kind) {
      case "complaint":
        return skipped("complaint");
      case "site":
        return skipped(subject);
      case "setup":
        return skipped("setup");
      case "part":
        return this.nextPart(null);
      case "question":
        return skipped(observation);
      default:
        return this.record({ event: "could_not", act: subject });
    }
  }

  // No more questions about the place.
  enough() {
    return this.record({ event: "skipped", what: "site" });
  }

  get mayWait() {
    const { kind, subject } = this.prompt;
    return kind === "check" && !this.state.waiting && canWait(this.model, subject);
  }

  wait() {
    return this.record(...this.way(), { event: "waiting", act: this.prompt.subject });
  }

  // --- leaving ---------------------------------------------------------------------------------

  leave(settled) {
    const nothing = { end: "", act: "", to: null, stillOpen: null, days: null };
    const leaving = { ...nothing, ...(this.focus.leaving ?? {}), ...settled };
    const { model, routes, state, fired, start } = this;
    if (leavePrompt(model, routes, state, fired, leaving, start)) return this.turn({ leaving });
    return this.record(...endEvents(routes, state, fired, leaving, start, this.clock()));
  }
}
