// Everything a signature binds, nothing left out.

import { html } from "../../../vendor/mobile/preact-htm.js";
import { describe, limitFrom } from "../judge/limits.js";
import { unitLabel } from "../judge/quantities.js";
import { answerWords } from "../ui/answers.js";
import { day, dayTime } from "../ui/moments.js";
import { Facts, Status, levelOf } from "../ui/parts.js";

const shownLimit = (limit) => {
  try {
    return describe(limitFrom(limit));
  } catch {
    return JSON.stringify(limit);
  }
};

const Section = ({ title, children }) => html`<section><h2>${title}</h2>${children}</section>`;
const counts = (row) => (row.counts === false ? " (repeated, does not count)" : "");

export function ContentInFull({ payload, digest }) {
  const { aircraft, task, procedure } = payload;
  return html`
    <p><${Status} level=${levelOf(payload.verdict)} words=${payload.verdict.toUpperCase().replace("_", " ")} /></p>
    <p>${payload.verdict_detail?.reason}</p>
    ${payload.statement && html`<p class="statement">${payload.statement}</p>`}
    ${payload.discrepancies && html`<${Section} title="Found wrong"><ul>${payload.discrepancies.map((words) => html`<li key=${words}>${words}</li>`)}</ul></${Section}>`}
    <${Section} title="What and on what"><${Facts} rows=${[
      ["Aircraft", `${aircraft.registration}, ${aircraft.type}, serial ${aircraft.serial_number}`],
      ["Time in service", `${aircraft.time_in_service} h, ${aircraft.landings} landings`],
      ["Work", task.title], ["Place", task.position], ["Component", task.component],
      ["Procedure", `${procedure.title}, version ${procedure.version}`],
      ["Approved data", `${procedure.approved_data}, revision ${procedure.revision}`], ["Chapter", procedure.ata],
      ["Done by", payload.performed_by], ["Begun", dayTime(payload.started_at)], ["Finished", dayTime(payload.finished_at)],
    ]} /></${Section}>
    <${Section} title="Why"><ul>${task.why.map((words) => html`<li key=${words}>${words}</li>`)}</ul></${Section}>
    <${Section} title="Readings"><ul class="signed-rows">${payload.measurements.map((row, at) => html`
      <li key=${at}><p><strong>${row.name}</strong> <span class="figures">${row.value} ${unitLabel(row.unit)}</span>${counts(row)}</p>
        <p><${Status} level=${levelOf(row.verdict)} words=${row.verdict.replace("_", " ")} detail=${row.words} /></p>
        <p class="soft">Allowed: ${shownLimit(row.limit)}${row.equipment ? `; read with ${row.equipment}` : ""}</p></li>`)}</ul></${Section}>
    <${Section} title="Steps"><ol class="signed-rows">${payload.answers.map((row, at) => html`
      <li key=${at}><p><strong>${row.title}</strong>: ${answerWords(row.answer)}${counts(row)}</p>
        <p class="soft">${[row.words, row.repeat_reason && `repeated: ${row.repeat_reason}`, `${dayTime(row.captured_at)}, ${row.by}`].filter(Boolean).join("; ")}</p></li>`)}</ol></${Section}>
    <${Section} title="Done with"><ul class="signed-rows">
      ${payload.equipment.map((row) => html`<li key=${row.role}>${row.name} (${row.code}), serial ${row.serial_number}${row.certificate ? `, certificate ${row.certificate}, calibration due ${day(row.calibration_due)}` : ""}</li>`)}
      ${payload.fluid.map((row) => html`<li key=${row.batch}>${row.amount} ${unitLabel(row.unit)} of ${row.specification}, batch ${row.batch}, good until ${day(row.expires_on)}</li>`)}
      ${payload.photos.map((row) => html`<li key=${row.sha256}>Photo at ${row.step}, <span class="digest">${row.sha256}</span></li>`)}
      ${payload.hand_overs.map((row, at) => html`<li key=${`h${at}`}>Handed over from ${row.from} to ${row.to}: ${row.note}</li>`)}</ul></${Section}>
    <p class="soft">${payload.notice}</p>
    <p class="digest"><span class="soft">Digest of all this</span> ${digest}</p>`;
}
