// An answer in a few words.

import { unitLabel } from "../judge/quantities.js";
import { tenths } from "./moments.js";

const seconds = (from, to) => `${tenths(Date.parse(to) - Date.parse(from))} s`;

function sideWords([side, row]) {
  const value = row.method === "volume"
    ? `${row.value} ${unitLabel(row.unit)}`
    : `${row.gross} − ${row.tare} ${unitLabel(row.unit)} at ${row.celsius} °C`;
  return `${side} ${value}`;
}

export function answerWords(answer) {
  if ("done" in answer) return answer.done ? "done" : `not in order${answer.note ? `: ${answer.note}` : ""}`;
  if ("value" in answer) return `${answer.value} ${unitLabel(answer.unit)}`.trim();
  if ("started_at" in answer) return `ran ${seconds(answer.started_at, answer.stopped_at)}`;
  if ("runs" in answer) return `${answer.runs.length} runs: ${answer.runs.map((run) => seconds(run.on_at, run.off_at)).join(", ")}`;
  if ("outlets" in answer) {
    const dry = answer.outlets.filter((row) => !row.wet).length;
    return dry ? `${dry} of ${answer.outlets.length} stayed dry` : `all ${answer.outlets.length} wet`;
  }
  if ("sides" in answer) return Object.entries(answer.sides).map(sideWords).join(", ");
  if ("photo_key" in answer) return "photo kept";
  return "read";
}
