// For every answer that is not "taken": what can be done about it.

import { html, useState } from "../../../vendor/mobile/preact-htm.js";
import { refreshBundle, runInHand } from "../core/bundle.js";
import * as outbox from "../core/outbox.js";
import * as work from "../core/work.js";
import { current, go } from "../core/state.js";

const JOIN_REASON = "entered on two phones at once";

export function WaysOut({ command }) {
  const run = current().runs.find((each) => each.key === command.run);
  return html`<div class="acts">${waysOf(command, run)}
    <button class="button" onClick=${() => outbox.tryAgain(command.id)}>Try again</button>
    <${Aside} command=${command} run=${run} /></div>`;
}

function waysOf(command, run) {
  if (!run) return null;
  if (command.code === "procedure_changed") return html`<${NewText} run=${run} />`;
  if (command.kind === "open_run" && command.code === "run_in_hand") return html`<${TwoPhones} run=${run} />`;
  if (command.kind === "answer") return html`<${AnswerAgain} command=${command} run=${run} />`;
  return null;
}

function NewText({ run }) {
  const [words, setWords] = useState("");
  const load = async () => {
    setWords("Loading the text in force…");
    await refreshBundle();
    const task = current().bundle?.tasks.find((each) => each.id === run.taskId);
    if (!task?.content || task.procedure.version === run.procedure.version) {
      setWords("The new text could not be loaded. Try again where there is reception.");
      return;
    }
    const made = await work.carryOver(run, task);
    go("run", made.key);
  };
  return html`<button class="button button-primary tall" onClick=${load}>Go on with the new text; what reads the same is carried over</button>
    ${words && html`<p role="status">${words}</p>`}`;
}

function TwoPhones({ run }) {
  const [words, setWords] = useState("");
  const join = async () => {
    setWords("Looking who has it…");
    const theirs = await runInHand(run.taskId, run).catch(() => null);
    const { person } = current();
    if (!theirs) return setWords("The run in hand could not be loaded. Try again where there is reception.");
    if (theirs.performer?.id !== person?.id) {
      return setWords(`${theirs.performer?.name} has it. Ask for it to be handed over to you, then press again. What you entered stays here.`);
    }
    const joined = await work.joinRun(run, theirs, JOIN_REASON);
    return go("run", joined.key);
  };
  return html`<button class="button button-primary tall" onClick=${join}>Put my readings into the run that is in hand</button>
    ${words && html`<p role="status">${words}</p>`}`;
}

function AnswerAgain({ command, run }) {
  const again = async () => {
    await work.takeBack(run, command);
    go("run", run.key, "step", command.body.step);
  };
  return html`<button class="button button-primary tall" onClick=${again}>Enter this step again</button>`;
}

function Aside({ command, run }) {
  const [isSure, setSure] = useState(false);
  const away = () => (command.kind === "open_run" && run ? work.setAsideRun(run) : outbox.setAside(command.id));
  if (!isSure) return html`<button class="button" onClick=${() => setSure(true)}>Set aside</button>`;
  return html`<button class="button button-danger" onClick=${away}>Yes, set aside${command.kind === "open_run" ? " with everything of this run" : ""}</button>`;
}
