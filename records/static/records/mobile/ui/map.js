// The outlet map: where each outlet sits on the aircraft, seen from above, nose up. Tap it as it wets.

import { html } from "../../../vendor/mobile/preact-htm.js";

// Places are per cent of the map; what has no place is in the list below it only.
export function OutletMap({ outlets, marks, onTap }) {
  const placed = outlets.filter((each) => each.x !== null && each.y !== null);
  if (!placed.length) return null;
  return html`
    <svg class="map" viewBox="0 0 100 100" role="group" aria-label="Outlet map, seen from above, nose up">
      <g class="map-outline" aria-hidden="true">
        <path d="M47 14c0-7 6-7 6 0l1 22 42 4v9l-42 3-1.6 26 15 4v6L50 86l-17.4 2v-6l15-4L46 52 4 49v-9l42-4z" />
      </g>
      ${placed.map((each) => html`<${Spot} key=${each.code} outlet=${each} mark=${marks[each.code]} onTap=${onTap} />`)}
    </svg>`;
}

function Spot({ outlet, mark, onTap }) {
  const state = mark ? `wet after ${mark} seconds` : "not wet yet";
  const tap = () => onTap(outlet.code);
  const key = (event) => {
    if (event.key !== "Enter" && event.key !== " ") return;
    event.preventDefault();
    tap();
  };
  return html`
    <g class=${`spot${mark ? " spot-wet" : ""}`} role="button" tabindex="0" aria-pressed=${Boolean(mark)}
      aria-label=${`${outlet.name}, ${state}`} transform=${`translate(${outlet.x} ${outlet.y})`} onClick=${tap} onKeyDown=${key}>
      <circle class="spot-reach" r="7.5" />
      <circle class="spot-ring" r="4" />
      ${mark && html`<path class="spot-tick" d="M-2 0l1.5 1.7L2.2-1.6" />`}
    </g>`;
}
