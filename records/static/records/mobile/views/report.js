// Report an event: what, on which aircraft, where, with a photo. It is kept at once and sent when there is reception.

import { html, useEffect, useState } from "../../../vendor/mobile/preact-htm.js";
import { report } from "../core/work.js";
import { go, useApp } from "../core/state.js";
import * as store from "../core/store.js";
import { PhotoChooser } from "../steps/photo.js";
import { Empty, Field } from "../ui/parts.js";
import { Frame, Places } from "./frame.js";

const NOTHING = { aircraft: "", kind: "", position: "", part: "", serial: "", release: "", note: "", photo: null };
const NEEDS_PART = ["replace", "fit"];

export function ReportView({ registration }) {
  const { bundle } = useApp();
  const [form, setForm] = useState(null);
  const [isSent, setSent] = useState(false);
  useEffect(() => {
    store.kept("report").then((kept) => setForm({ ...NOTHING, ...kept, ...(registration ? { aircraft: registration } : {}) }));
  }, []);
  const change = (difference) => {
    const changed = { ...form, ...difference };
    setForm(changed);
    store.keep("report", changed);
  };
  if (isSent) return html`<${Done} />`;
  if (!bundle || !form) {
    return html`<${Frame} title="Report an event" foot=${html`<${Places} />`}><${Empty} title="Nothing loaded yet"><p>Load today’s work where there is reception.</p></${Empty}></${Frame}>`;
  }
  const aircraft = bundle.aircraft.find((each) => each.registration === form.aircraft);
  const kind = bundle.eventKinds.find((each) => each.code === form.kind);
  const places = (aircraft?.positions ?? []).filter((each) => !kind?.component_kinds.length || kind.component_kinds.includes(each.kind));
  const wantsPart = kind && NEEDS_PART.includes(kind.change);
  const isWhole = aircraft && kind && (!kind.needs_position || form.position) && (!wantsPart || (form.part.trim() && form.serial.trim()));
  const send = async () => {
    await report(bodyOf(form, wantsPart), `${kind.name}, ${form.aircraft}`, form.photo);
    await store.keep("report", NOTHING);
    setSent(true);
  };
  const input = (name) => (event) => change({ [name]: event.target.value });
  return html`
    <${Frame} title="Report an event" back=${() => go()} foot=${html`<button class="button button-primary tall" disabled=${!isWhole} onClick=${send}>Report it</button>`}>
      <${Field} id="aircraft" label="Aircraft"><select id="aircraft" onChange=${(event) => change({ aircraft: event.target.value, position: "" })}>
        <option value="" disabled selected=${!form.aircraft}>Choose</option>${bundle.aircraft.map((each) => html`<option key=${each.registration} selected=${each.registration === form.aircraft}>${each.registration}</option>`)}</select></${Field}>
      <${Field} id="kind" label="What happened"><select id="kind" onChange=${(event) => change({ kind: event.target.value, position: "" })}>
        <option value="" disabled selected=${!form.kind}>Choose</option>${bundle.eventKinds.map((each) => html`<option key=${each.code} value=${each.code} selected=${each.code === form.kind}>${each.name}</option>`)}</select></${Field}>
      ${aircraft && kind && (kind.needs_position || places.length > 0) && html`<${Field} id="position" label=${kind.needs_position ? "Where" : "Where (may stay open)"}><select id="position" onChange=${input("position")}>
        <option value="" selected=${!form.position}>${kind.needs_position ? "Choose" : "The whole aircraft"}</option>${places.map((each) => html`<option key=${each.code} value=${each.code} selected=${each.code === form.position}>${each.name}</option>`)}</select></${Field}>`}
      ${wantsPart && html`
        <${Field} id="part" label="Part number of what went on"><input id="part" autocomplete="off" value=${form.part} onInput=${input("part")} /></${Field}>
        <${Field} id="serial" label="Its serial number, read from the plate"><input id="serial" autocomplete="off" value=${form.serial} onInput=${input("serial")} /></${Field}>
        <${Field} id="release" label="Its release document (may stay open)"><input id="release" autocomplete="off" value=${form.release} onInput=${input("release")} /></${Field}>`}
      <${Field} id="note" label="In your words (may stay open)"><textarea id="note" maxlength="1000" onInput=${input("note")} value=${form.note}></textarea></${Field}>
      <${PhotoChooser} id="event-photo" label="Add a photo" blob=${form.photo} onTaken=${(photo) => change({ photo })} />
    </${Frame}>`;
}

function bodyOf(form, wantsPart) {
  const body = { aircraft: form.aircraft, event_kind: form.kind, note: form.note.trim() };
  if (form.position) body.position = form.position;
  if (wantsPart) body.new_component = { part_number: form.part.trim(), serial_number: form.serial.trim(), release_document: form.release.trim() };
  return body;
}

const Done = () => html`
  <${Frame} title="Reported" back=${() => go()} foot=${html`<button class="button button-primary tall" onClick=${() => go()}>My work</button>`}>
    <p>It is kept on this phone and sent as soon as there is reception. The work it demands then stands in the task list.</p>
    <div class="acts"><button class="button" onClick=${() => go("outbox")}>See the outbox</button></div>
  </${Frame}>`;
