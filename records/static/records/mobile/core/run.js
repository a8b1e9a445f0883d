// A run as the phone knows it. Answers are numbered in the order they were entered; nothing is overwritten.

// The answer that counts at each step: the last one. What was collected during a timed run that was repeated
// afterwards counts no longer.
export function countingAnswers(run) {
  const latest = {};
  for (const answer of run.answers) latest[answer.step] = answer;
  for (const step of run.content.steps) {
    const timed = step.run_step && latest[step.run_step];
    const collected = latest[step.key];
    if (timed && collected && collected.number < timed.number) delete latest[step.key];
  }
  return latest;
}

export const bareAnswers = (run) =>
  Object.fromEntries(Object.entries(countingAnswers(run)).map(([step, each]) => [step, each.answer]));

export const nextStep = (run) => {
  const counting = countingAnswers(run);
  return run.content.steps.find((step) => step.kind !== "note" && !counting[step.key]) ?? null;
};

export const stepOf = (run, key) => run.content.steps.find((step) => step.key === key);
export const isAnswered = (run, step) => Boolean(countingAnswers(run)[step.key]);
export const wasAnswered = (run, step) => run.answers.some((each) => each.step === step.key);

// A step may be answered when everything before it is.
export function mayAnswer(run, step) {
  const counting = countingAnswers(run);
  const before = run.content.steps.slice(0, run.content.steps.indexOf(step));
  return before.every((each) => each.kind === "note" || counting[each.key]);
}

export const progress = (run) => {
  const asked = run.content.steps.filter((step) => step.kind !== "note");
  const counting = countingAnswers(run);
  return { done: asked.filter((step) => counting[step.key]).length, asked: asked.length };
};

export const isWorkable = (run, person) =>
  run.state === "open" && (!run.performer || !person || run.performer.id === person.id);

export const outletCodes = (run) =>
  Object.fromEntries(Object.entries(run.outlets).map(([key, outlets]) => [key, outlets.map((each) => each.code)]));

export const pointOf = (run, key) => run.content.points.find((point) => point.key === key);

export function missingProvisions(run) {
  const roles = run.need.roles.filter((role) => !run.uses[role.role]).map((role) => role.name);
  return run.need.fluid && !run.lot ? [...roles, "Fluid lot"] : roles;
}
