// A run, one step a screen.

import { html, useState } from "../../../vendor/mobile/preact-htm.js";
import * as work from "../core/work.js";
import { bareAnswers, countingAnswers, isWorkable, mayAnswer, missingProvisions, nextStep, outletCodes, progress, wasAnswered } from "../core/run.js";
import { current, go, useApp } from "../core/state.js";
import { judgeWhole } from "../judge/procedure.js";
import { CollectStep } from "../steps/collect.js";
import { DutyStep } from "../steps/duty.js";
import { OutletsStep } from "../steps/outlets.js";
import { PhotoStep } from "../steps/photo.js";
import { CautionStep, CheckStep, NoteStep } from "../steps/plain.js";
import { Judged, ReadingStep, tryOut } from "../steps/reading.js";
import { TimedStep } from "../steps/timed.js";
import { answerWords } from "../ui/answers.js";
import { Caution, Empty, Field, Mark, Safety, Status, Verdict, levelOf } from "../ui/parts.js";
import { Frame } from "./frame.js";
import { RunActs, WhoHasIt } from "./run_acts.js";

const KINDS = {
  caution: CautionStep, note: NoteStep, check: CheckStep, set_control: CheckStep, read_value: ReadingStep,
  timed_run: TimedStep, duty_run: DutyStep, outlets: OutletsStep, collect: CollectStep, photo: PhotoStep,
};

export function RunView({ id, part, step }) {
  const { runs } = useApp();
  const run = runs.find((each) => each.key === id);
  if (!run) {
    return html`<${Frame} title="Run" back=${() => go()}><${Empty} title="This run is not on this phone"><p>Load today’s work where there is reception.</p></${Empty}></${Frame}>`;
  }
  if (part === "step") return html`<${StepView} key=${`${run.key}-${step}`} run=${run} step=${run.content.steps.find((each) => each.key === step)} />`;
  return html`<${Overview} run=${run} />`;
}

// The first open step, or the overview when everything is answered.
export function goOn(run) {
  const fresh = current().runs.find((each) => each.key === run.key) ?? run;
  const step = nextStep(fresh);
  if (step) go("run", run.key, "step", step.key);
  else go("run", run.key);
}

function Overview({ run }) {
  const { person } = useApp();
  const counting = countingAnswers(run);
  const { done, asked } = progress(run);
  const workable = isWorkable(run, person);
  const missing = missingProvisions(run);
  const isWhole = done === asked;
  const foot = workable
    ? isWhole
      ? html`<button class="button button-primary tall" disabled=${missing.length > 0} onClick=${() => work.finish(run)}>Finish: nothing more to enter</button>`
      : html`<button class="button button-primary tall" onClick=${() => goOn(run)}>${done ? "Go on" : "Begin"}</button>`
    : run.state === "finished" && html`<button class="button button-primary tall" onClick=${() => go("sign", run.key)}>Read and sign</button>`;
  return html`
    <${Frame} title=${run.title} lead=${`${run.registration} · ${done} of ${asked} steps`} back=${() => go()} foot=${foot}>
      <progress class="steps-done" max=${asked || 1} value=${done} aria-label="Steps answered"></progress>
      <${WhoHasIt} run=${run} />
      ${missing.length > 0 && workable && html`<div class="ask"><p><strong>Not named yet:</strong> ${missing.join(", ")}.</p></div>`}
      ${run.verdict && html`<p><${Status} level=${levelOf(run.verdict.outcome)} words=${run.verdict.outcome.toUpperCase().replace("_", " ")} /></p><p>${run.verdict.reason}</p>`}
      ${isWhole && !run.verdict && !run.isOver && html`<${SoFar} run=${run} />`}
      <ol class="steps">${run.content.steps.map((step) => html`<${StepRow} key=${step.key} run=${run} step=${step} answer=${counting[step.key]} />`)}</ol>
      <${RunActs} run=${run} />
      <${Safety} />
    </${Frame}>`;
}

// What everything entered comes to, before the server has said so.
function SoFar({ run }) {
  const answers = bareAnswers(run);
  const { outcome, reason } = judgeWhole(run.content, outletCodes(run), answers, run.lot?.density);
  return html`<${Verdict} outcome=${outcome} reason=${reason} />
    ${outcome !== "pass" && html`<p class="soft">Open a marked step to repeat its reading with a reason, or finish with what was found.</p>`}`;
}

function StepRow({ run, step, answer }) {
  const judged = answer ? tryOut(run, step, answer.answer) : { parts: [] };
  const bad = judged.parts.find((part) => part.verdict.outcome !== "pass");
  const level = !answer ? "unknown" : bad ? levelOf(bad.verdict.outcome) : "clear";
  return html`<li><a class="step-row" href=${`#/run/${run.key}/step/${encodeURIComponent(step.key)}`}>
    <${Mark} level=${level} /><span><span class="step-title">${step.title}</span>
    <span class="soft">${answer ? answerWords(answer.answer, run) : step.kind === "note" ? "to read" : "open"}</span></span></a></li>`;
}

function StepView({ run, step }) {
  const { person } = useApp();
  const [reason, setReason] = useState(null);
  if (!step) return html`<${Overview} run=${run} />`;
  const { steps } = run.content;
  const place = steps.indexOf(step);
  const counting = countingAnswers(run)[step.key];
  const isRepeat = wasAnswered(run, step);
  const isAcked = !step.caution || run.acks[step.key];
  const workable = isWorkable(run, person);
  const isOpen = workable && mayAnswer(run, step);
  const move = (by) => {
    const other = steps[place + by];
    if (other) go("run", run.key, "step", other.key);
    else go("run", run.key);
  };
  const needsReason = isRepeat && !counting;
  const why = reason?.trim() || (needsReason ? "the timed run was repeated" : "");
  const onAnswer = async (value, { isAgain = false } = {}) => {
    setReason(isAgain ? "" : null);
    await work.answer(run, step, value, isRepeat ? why : "");
    if (isAgain) return;
    if (["check", "set_control", "caution", "timed_run", "photo"].includes(step.kind)) goOn(run);
  };
  const onPhoto = async (blob) => {
    setReason(null);
    await work.photograph(run, step, blob, isRepeat ? why : "");
    goOn(run);
  };
  const Kind = KINDS[step.kind];
  const form = isOpen && isAcked && (!counting || (reason !== null && reason.trim()));
  const foot = html`
    <button class="button" onClick=${() => move(-1)} disabled=${place === 0}>Before</button>
    <button class="button" onClick=${() => go("run", run.key)}>All steps</button>
    ${counting ? html`<button class="button button-primary" onClick=${() => goOn(run)}>Next</button>`
      : html`<button class="button" onClick=${() => move(1)}>Look ahead</button>`}`;
  return html`
    <${Frame} title=${step.title} lead=${`${run.registration} · step ${place + 1} of ${steps.length}`} back=${() => go("run", run.key)} foot=${foot} wide>
      ${step.caution && html`<${Caution} title=""><p>${step.caution}</p></${Caution}>
        ${!isAcked && isOpen && html`<div class="acts"><button class="button button-primary tall" onClick=${() => work.note(run, { acks: { ...run.acks, [step.key]: true } })}>I have read the caution</button></div>`}`}
      ${step.kind !== "caution" && step.text && html`<p class="step-text">${step.text}</p>`}
      <${WhoHasIt} run=${run} />
      ${workable && !isOpen && html`<p class="soft">${nextStep(run)?.title} comes first: steps are worked in order.</p>`}
      ${counting && reason === null && html`<${Answered} run=${run} step=${step} answer=${counting} mayRepeat=${isOpen} onRepeat=${() => setReason("")} />`}
      ${reason !== null && counting && html`<${Field} id="repeat" label="Why is it repeated?" help="Both readings are kept."><input id="repeat" maxlength="200" aria-describedby="repeat-help" value=${reason} onInput=${(event) => setReason(event.target.value)} /></${Field}>
        <div class="chips">${["misread", "spilled", "air in the line", "instrument changed"].map((words) => html`<button key=${words} class="button" onClick=${() => setReason(words)}>${words}</button>`)}</div>`}
      ${form && html`<${Kind} run=${run} step=${step} onAnswer=${onAnswer} onPhoto=${onPhoto} onNext=${() => move(1)}
        onDraft=${(value) => work.draft(run, step.key, value)} onTime=${(value) => work.time(run, step.key, value)} />`}
      ${step.kind === "note" && !isOpen && html`<p class="soft">For reading.</p>`}
    </${Frame}>`;
}

function Answered({ run, step, answer, mayRepeat, onRepeat }) {
  const earlier = run.answers.filter((each) => each.step === step.key && each.id !== answer.id);
  return html`
    <section class="answered"><p class="answer-value">${answerWords(answer.answer, run)}</p>
      <${Judged} judged=${tryOut(run, step, answer.answer)} isTyped=${true} />
      ${earlier.length > 0 && html`<p class="soft">Before: ${earlier.map((each) => answerWords(each.answer, run)).join("; ")}. Repeated: ${answer.repeat}.</p>`}
      ${mayRepeat && html`<div class="acts"><button class="button" onClick=${onRepeat}>Repeat it, with a reason</button></div>`}
    </section>`;
}
