// Reading what is signed, in full, and signing it. This needs the server.

import { html, useEffect, useState } from "../../../vendor/mobile/preact-htm.js";
import * as outbox from "../core/outbox.js";
import * as passkeys from "../core/passkeys.js";
import { refreshBundle } from "../core/bundle.js";
import { change, current, go, useApp } from "../core/state.js";
import * as wire from "../core/wire.js";
import { Empty, Field, Safety, Status, levelOf } from "../ui/parts.js";
import { Frame } from "./frame.js";
import { ContentInFull } from "./sign_content.js";

export function SignView({ id }) {
  const { runs, commands } = useApp();
  const run = runs.find((each) => each.key === id || String(each.serverId) === id);
  const serverId = run?.serverId ?? (/^\d+$/.test(id) ? Number(id) : null);
  const waits = run ? commands.filter((each) => each.run === run.key && each.state !== "aside").length : 0;
  const [seen, setSeen] = useState({});
  const [again, setAgain] = useState(0);
  useEffect(() => {
    if (!serverId || waits) return;
    Promise.all([wire.get(`/api/v1/runs/${serverId}/content/`), wire.get(`/api/v1/runs/${serverId}/`)])
      .then(([content, fresh]) => setSeen({ content, fresh }), (fault) => {
        if (fault.kind === "signed_out") change({ signInAsked: true });
        setSeen({ words: fault.words ?? String(fault) });
      });
  }, [serverId, waits, current().person?.id, again]);
  const back = () => (run ? go("run", run.key) : go());
  if (waits || !serverId) {
    return html`<${Frame} title="Sign" back=${back}><${Empty} title="Not everything is sent yet">
      <p>Signing needs the server: ${waits || "some"} ${waits === 1 ? "entry waits" : "entries wait"} to be sent first. Nothing is lost meanwhile.</p></${Empty}>
      <div class="acts"><button class="button button-primary tall" onClick=${() => outbox.send()}>Send now</button>
        <button class="button" onClick=${() => go("outbox")}>See the outbox</button></div></${Frame}>`;
  }
  if (seen.words) {
    return html`<${Frame} title="Sign" back=${back}><${Empty} title="Cannot be signed now"><p>Signing needs the server. ${seen.words}</p></${Empty}>
      <div class="acts"><button class="button button-primary tall" onClick=${() => setAgain(again + 1)}>Try again</button></div></${Frame}>`;
  }
  if (!seen.content) return html`<${Frame} title="Sign" back=${back}><p role="status">Fetching what is to be signed…</p></${Frame}>`;
  return html`<${Signing} content=${seen.content} run=${seen.fresh} back=${back} onSigned=${() => setAgain(again + 1)} />`;
}

const MEANINGS = { performed: "I did this work", inspected: "I inspected this work" };
const DONE = { performed: "did this work", inspected: "inspected this work" };

function Signing({ content, run, back, onSigned }) {
  const { person } = useApp();
  const done = run.signatures.map((each) => each.meaning);
  const needed = run.needs_countersignature ? ["performed", "inspected"] : ["performed"];
  const open = needed.filter((each) => !done.includes(each));
  const [result, setResult] = useState(null);
  const isOther = open[0] === "inspected" ? run.performer_id === person?.id : run.performer_id !== person?.id;
  const signed = async (answer) => {
    setResult(answer);
    onSigned();
    await refreshBundle();
  };
  const lead = `${run.aircraft} · ${run.title}, run ${run.number}`;
  if (result?.is_sealed || !open.length) {
    return html`<${Frame} title="Signed" lead=${lead} back=${() => go()} foot=${html`<button class="button button-primary tall" onClick=${() => go()}>My work</button>`}>
      <p><${Status} level="clear" words=${`Sealed as record ${result?.record ?? run.record}`} /></p>
      <p><${Status} level=${levelOf(run.verdict)} words=${run.verdict.toUpperCase().replace("_", " ")} /></p>
      <p>${run.verdict === "pass" ? "The task is closed." : "Only PASS closes a task: it stands open again, with what else is to be done, in My work."} The record is never edited, only amended.</p>
      ${result?.digest && html`<p class="digest"><span class="soft">Digest</span> ${result.digest}</p>`}</${Frame}>`;
  }
  return html`
    <${Frame} title="Sign" lead=${lead} back=${back} wide>
      <${ContentInFull} payload=${content.payload} digest=${content.digest} />
      ${run.signatures.map((each) => html`<p key=${each.meaning}><${Status} level="clear" words=${`${each.name} signed`} detail=${DONE[each.meaning]} /></p>`)}
      <${SignForm} key=${open[0]} run=${run} digest=${content.digest} meaning=${open[0]} isOther=${isOther} onSigned=${signed} />
      <${Safety} />
    </${Frame}>`;
}

const UNKNOWN = "The server did not answer: it is not known yet whether this was signed. Open this page again where there is "
  + "reception; it shows the signatures that are there.";

function SignForm({ run, digest, meaning, isOther, onSigned }) {
  const { person } = useApp();
  const [asOther, setAsOther] = useState(isOther);
  const [form, setForm] = useState({ username: "", password: "" });
  const [words, setWords] = useState("");
  const [isBusy, setBusy] = useState(false);
  const sign = async (proof) => {
    setBusy(true);
    setWords("");
    const username = asOther ? form.username.trim() : "";
    try {
      const key = { "Idempotency-Key": crypto.randomUUID() };
      const body = { meaning, content_digest: digest, username, ...(await proof(username)) };
      setForm({ username: "", password: "" });
      await onSigned(await wire.post(`/api/v1/runs/${run.id}/sign/`, body, key));
    } catch (fault) {
      if (fault.kind === "signed_out") change({ signInAsked: true });
      setWords(fault.kind === "offline" ? UNKNOWN : fault.words ?? "The passkey was not given. Nothing was signed.");
    } finally {
      setBusy(false);
    }
  };
  const isNamed = !asOther || form.username.trim();
  return html`
    <form class="signing" onSubmit=${(event) => { event.preventDefault(); sign(() => ({ password: form.password })); }}>
      <h2>${MEANINGS[meaning]}</h2>
      <p>${asOther ? "A colleague signs on this phone, with their own name and password." : `You sign as ${person?.name}.`}</p>
      ${asOther && html`<${Field} id="signer" label="Name for signing in of who signs"><input id="signer" autocomplete="off" autocapitalize="none" spellcheck="false" value=${form.username} onInput=${(event) => setForm({ ...form, username: event.target.value })} /></${Field}>`}
      <${Field} id="proof" label="Password"><input id="proof" type="password" autocomplete="off" value=${form.password} onInput=${(event) => setForm({ ...form, password: event.target.value })} /></${Field}>
      <p class="field-error" role="alert">${words}</p>
      <div class="acts">
        <button class="button button-primary tall" disabled=${isBusy || !form.password || !isNamed}>Sign with password</button>
        ${passkeys.arePossible() && html`<button type="button" class="button tall" disabled=${isBusy || !isNamed} onClick=${() => sign(async (username) => ({ passkey: await passkeys.prove(username) }))}>Sign with passkey</button>`}
        <button type="button" class="button" onClick=${() => setAsOther(!asOther)}>${asOther ? "I sign myself" : "Somebody else signs on this phone"}</button>
      </div>
    </form>`;
}
