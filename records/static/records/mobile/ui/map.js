// The outlet map: where each outlet sits on the aircraft, seen from above, nose up. Tap it as it wets.

import { html } from "../../../vendor/mobile/preact-htm.js";

// Places are per cent of the map; what has no place is in the list below it only.
export function OutletMap({ outlets, marks, onTap }) {
  const placed = outlets.filter((each) => each.x !== null && each.y !== null);
  if (!placed.length) return null;
  return html`
    <svg class="map" viewBox="0 0 100 100" role="group" aria-label="Outlet map, seen from above, nose up">
      <g class="map-outline" aria-hidden="true">
        <path d="M50 5c3 3 4.5 8 4.5 15v52l-2 22h-5l-2-22V20c0-7 1.5-12 4.5-15z" />
        <path d="M45.5 27L3 31v7l42.5 1zM54.5 27L97 31v7l-42.5 1z" /><path d="M47 79l-17 2.5v5l17 1zM53 79l17 2.5v5l-17 1z" />
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
      <circle class="spot-reach" r="6" />
      <circle class="spot-ring" r="4" />
      ${mark && html`<path class="spot-tick" d="M-2 0l1.5 1.7L2.2-1.6" /><text class="spot-time" y="8.4" text-anchor="middle" aria-hidden="true">${Math.round(mark)} s</text>`}
    </g>`;
}
