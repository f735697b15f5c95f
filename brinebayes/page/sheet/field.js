// The field sheet: the first decisions for a complaint as a tree on paper, from this model.

const FIELD_DEPTH = 3;
const FIELD_SHARE = 0.03;

// Works out the tree step by step; yields how many acts are found, returns the root:
// {act, question, answers: [{text, chance, then}]}, `question` empty where the tree ends.
function* fieldTree(model, routes, events, depth) {
  const { now, next } = advise(model, routes, fold(model, events));
  yield next.act.name;
  const { act } = next;
  if (act.kind !== "check" || depth === 0) return { act, question: "", answers: [] };
  const [asked, ...others] = openQuestions(model, now.state, now.notes, act.id);
  const observation = observationOf(model, asked);
  const arrived = { event: "arrived", act: act.id, setup: namedSetup(routes, act.end) };
  const skipped = others.map((what) => ({ event: "skipped", what }));
  const chances = now.belief.outcomes(asked);
  const answers = [];
  let place = 0;
  for (const [outcome, text] of observation.outcomes) {
    const chance = chances[place++];
    if (chance < FIELD_SHARE) continue;
    const saw = { event: "saw", observation: asked, outcome };
    const then = yield* fieldTree(model, routes, [...events, arrived, saw, ...skipped], depth - 1);
    answers.push({ text, chance, then });
  }
  return { act, question: observation.question, answers };
}

class FieldSheet {
  constructor(sheet) {
    this.sheet = sheet;
    this.shown = h("div", { class: "field-sheet" });
  }

  section() {
    const { sheet } = this;
    const { complaints } = sheet.model;
    const pick = h("select", { id: "field" }, [...complaints].map(([id, one]) => h("option", { value: id }, one.name)));
    return sheet.section(
      "field-sheet",
      "Field sheet on paper",
      h("p", null, "The first decisions for a complaint, to be printed and taken along."),
      h("label", { for: "field", class: "field" }, "The complaint"),
      pick,
      sheet.button("Work it out", () => this.workOut(pick.value)),
      sheet.button("Print", () => window.print()),
      this.shown,
    );
  }

  workOut(complaint) {
    const { model, routes } = this.sheet;
    const steps = fieldTree(model, routes, [{ event: "complaint", complaint }], FIELD_DEPTH);
    let count = 0;
    const onward = () => {
      const { done, value } = steps.next();
      if (!done) {
        this.sheet.say(`Working… ${++count} acts so far`);
        setTimeout(onward, SHOWN_AFTER);
        return;
      }
      this.show(model.complaints.get(complaint).name, value);
    };
    onward();
  }

  show(complaint, root) {
    const { model } = this.sheet;
    const { hash, about } = model;
    this.shown.replaceChildren(
      h("h2", null, `Field sheet: ${complaint}`),
      h("p", null, `${about.name}, version ${about.version}, ${hash.slice(0, 12)}. Shares are for a site of which nothing is known. ${this.sheet.words.local_codes}`),
      this.branch(root),
    );
    this.sheet.say("The field sheet is ready.");
  }

  branch({ act, question, answers }) {
    const { sheet } = this;
    return h(
      "div",
      { class: "branch" },
      h("p", null, h("strong", null, `${stampOf(sheet.words, act.kind)}: ${act.name}`), ` (${minutesText(act.minutes, act.waiting)})`),
      cautionsOf(act).length > 0 && h("ul", { class: "cautions" }, cautionsOf(act).map((text) => h("li", null, `Caution: ${text}`))),
      act.route.moves.length > 0 && h("p", null, `First: ${act.route.moves.map((id) => sheet.model.setups.moves.get(id).name).join("; ")}.`),
      question && h("p", null, question),
      answers.length > 0 &&
        h("ul", null, answers.map(({ text, chance, then }) => h("li", null, `${text} (${shareText(chance)})`, this.branch(then)))),
    );
  }
}
