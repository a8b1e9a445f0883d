// Point the camera at a label; where there is no camera, take a picture of it or type what it says.

import { html, useEffect, useRef, useState } from "../../../vendor/mobile/preact-htm.js";
import { back, go } from "../core/state.js";
import { tick } from "../core/sound.js";
import { placeOf, reader } from "../ui/labels.js";
import { Frame } from "./frame.js";

const LOOK_EVERY = 200;

export function ScanView() {
  const video = useRef();
  const [words, setWords] = useState("Starting the camera…");
  const open = (text) => {
    const place = placeOf(text);
    if (!place) return setWords("This code is no label of an aircraft or component here.");
    tick();
    return go(...place);
  };
  useEffect(() => {
    let stream;
    let timer;
    let isOver = false;
    const begin = async () => {
      try {
        stream = await navigator.mediaDevices.getUserMedia({ video: { facingMode: "environment" } });
        const read = await reader();
        if (isOver) return stream.getTracks().forEach((track) => track.stop());
        video.current.srcObject = stream;
        await video.current.play();
        setWords("Hold the label in the middle.");
        timer = setInterval(async () => {
          if (video.current?.readyState < 2) return;
          const text = await read(video.current);
          if (text && !isOver) open(text);
        }, LOOK_EVERY);
      } catch {
        setWords("No camera here. Take a picture of the label, or type what stands on it.");
      }
      return undefined;
    };
    begin();
    return () => {
      isOver = true;
      clearInterval(timer);
      stream?.getTracks().forEach((track) => track.stop());
    };
  }, []);
  const picture = async (event) => {
    const [file] = event.target.files;
    if (!file) return;
    const text = await (await reader())(await createImageBitmap(file));
    if (text) open(text);
    else setWords("No code found in this picture. Closer, and in more light.");
  };
  return html`
    <${Frame} title="Scan a label" back=${back}>
      <video class="camera" ref=${video} muted playsinline aria-label="What the camera sees"></video>
      <p role="status">${words}</p>
      <div class="acts"><label class="button tall" for="label-picture">Take a picture of it</label>
        <input class="only-heard" id="label-picture" type="file" accept="image/*" capture="environment" onChange=${picture} />
        <button class="button" onClick=${() => go("find")}>Type what stands on it</button></div>
    </${Frame}>`;
}
