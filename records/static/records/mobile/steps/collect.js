// What each side gave: a volume, or gross and tare with the fluid's temperature.

import { html, useState } from "../../../vendor/mobile/preact-htm.js";
import { unitLabel } from "../judge/quantities.js";
import { pointOf } from "../core/run.js";
import { Pad } from "../ui/pad.js";
import { Allowed, Judged, tryOut, unitsFor } from "./reading.js";

const NEEDED = { volume: ["value"], weighed: ["gross", "tare", "celsius"] };
const LABELS = { value: "Volume", gross: "Gross", tare: "Tare", celsius: "Temperature" };

const fresh = (unit) => ({ method: "volume", value: "", gross: "", tare: "", celsius: "", unit, massUnit: "g" });

function answerOf(row) {
  if (row.method === "volume") return { method: "volume", value: row.value, unit: row.unit };
  return { method: "weighed", gross: row.gross, tare: row.tare, celsius: row.celsius, unit: row.massUnit };
}

const isWhole = (row) => NEEDED[row.method].every((name) => row[name] !== "");

export function CollectStep({ run, step, onAnswer, onDraft }) {
  const sides = Object.keys(step.points);
  const firstUnit = (side) => pointOf(run, step.points[side]).unit;
  const [rows, setRows] = useState(run.drafts[step.key] ?? Object.fromEntries(sides.map((side) => [side, fresh(firstUnit(side))])));
  const [side, setSide] = useState(sides[0]);
  const [at, setAt] = useState("value");
  const row = rows[side];
  const keep = (difference) => {
    const changed = { ...rows, [side]: { ...row, ...difference } };
    setRows(changed);
    onDraft(changed);
  };
  const entered = Object.fromEntries(sides.filter((each) => isWhole(rows[each])).map((each) => [each, answerOf(rows[each])]));
  const isReady = sides.every((each) => isWhole(rows[each]));
  const judged = Object.keys(entered).length ? tryOut(run, step, { sides: entered }) : { parts: [] };
  const canWeigh = Boolean(run.lot?.density?.length);
  const fields = NEEDED[row.method].map((name) => ({
    name, label: LABELS[name], of: side, value: row[name],
    unit: name === "celsius" ? "degC" : row.method === "volume" ? row.unit : row.massUnit,
    unitLabel: name === "celsius" ? "°C" : unitLabel(row.massUnit),
    units: name === "value" ? unitsFor(firstUnit(side)) : undefined,
    onUnit: (unit) => keep({ unit }),
  }));
  const choose = (method) => {
    keep({ method });
    setAt(NEEDED[method][0]);
  };
  const next = () => {
    const other = sides.find((each) => !isWhole(rows[each]));
    setSide(other);
    setAt(NEEDED[rows[other].method][0]);
  };
  const enter = isReady
    ? { words: "Enter both sides", isOff: Boolean(judged.refusal), act: () => onAnswer({ sides: entered }) }
    : { words: "Next side", isOff: !isWhole(row) || Boolean(judged.refusal), act: next };
  return html`
    <div class="sides" role="group" aria-label="Side">${sides.map((each) => html`
      <button key=${each} class="button" aria-pressed=${each === side} onClick=${() => setSide(each)}>
        <span class="side-name">${each}</span><span class="side-value">${isWhole(rows[each]) ? wordsOf(rows[each]) : "to read"}</span></button>`)}</div>
    <${Allowed} point=${pointOf(run, step.points[side])} />
    ${canWeigh && html`<div class="methods" role="group" aria-label="How it was measured">
      <button class="button" aria-pressed=${row.method === "volume"} onClick=${() => choose("volume")}>Volume</button>
      <button class="button" aria-pressed=${row.method === "weighed"} onClick=${() => choose("weighed")}>Weighed</button></div>`}
    <${Pad} fields=${fields} at=${at} onAt=${setAt} onType=${(name, text) => keep({ [name]: text })} signed=${at === "celsius"} enter=${enter}
      more=${row.method === "weighed" && html`<${MassUnit} unit=${row.massUnit} onUnit=${(massUnit) => keep({ massUnit })} />`}>
      <${Judged} judged=${{ ...judged, parts: inSight(judged.parts, step, side) }} isShort=${true} isTyped=${isWhole(row)} /></${Pad}>`;
}

const MassUnit = ({ unit, onUnit }) => html`
  <div class="pad-field"><label for="mass-unit">Weighed in</label><div class="pad-value">
    <select id="mass-unit" value=${unit} onChange=${(event) => onUnit(event.target.value)}>${unitsFor("g").map((each) => html`
      <option key=${each.code} value=${each.code} selected=${each.code === unit}>${each.label}</option>`)}</select></div></div>`;

// The side being read, and what both come to together; the other side has its own turn.
const inSight = (parts, step, side) =>
  parts.filter((part) => part.key === step.points[side] || !Object.values(step.points).includes(part.key));

const wordsOf = (row) => (row.method === "volume"
  ? `${row.value} ${unitLabel(row.unit)}`
  : `${row.gross} − ${row.tare} ${unitLabel(row.massUnit)}`);
