// A photo of what the step asks for. It is kept on the phone until the server has it.

import { html, useEffect, useState } from "../../../vendor/mobile/preact-htm.js";
import { smaller } from "../ui/picture.js";

export function PhotoChooser({ id, label, blob, onTaken }) {
  const [address, setAddress] = useState("");
  useEffect(() => {
    if (!blob) return undefined;
    const made = URL.createObjectURL(blob);
    setAddress(made);
    return () => URL.revokeObjectURL(made);
  }, [blob]);
  const take = async (event) => {
    const [file] = event.target.files;
    if (file) onTaken(await smaller(file));
  };
  return html`
    <div class="photo">
      ${blob && address && html`<img src=${address} alt="The photo just taken" />`}
      <label class="button tall" for=${id}>${blob ? "Take it again" : label}</label>
      <input class="only-heard" id=${id} type="file" accept="image/jpeg,image/png" capture="environment" onChange=${take} />
    </div>`;
}

export function PhotoStep({ run, step, onPhoto, onDraft }) {
  const blob = run.drafts[step.key]?.blob ?? null;
  return html`
    <${PhotoChooser} id="step-photo" label="Take the photo" blob=${blob} onTaken=${(taken) => onDraft({ blob: taken })} />
    ${blob && html`<div class="acts"><button class="button button-primary tall" onClick=${() => onPhoto(blob)}>Enter this photo</button></div>`}`;
}
