// Dates as 14 Mar 2026, times with their zone, spans as minutes and seconds.

const MONTHS = ["Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec"];

export const clockTime = (moment, zone) => new Intl.DateTimeFormat("en-GB", {
  hour: "2-digit", minute: "2-digit", timeZone: zone || undefined, timeZoneName: "short",
}).format(new Date(moment));

export function dayTime(moment, zone) {
  const parts = new Intl.DateTimeFormat("en-GB", { day: "numeric", month: "numeric", year: "numeric", timeZone: zone || undefined })
    .formatToParts(new Date(moment));
  const part = (type) => Number(parts.find((each) => each.type === type).value);
  return `${part("day")} ${MONTHS[part("month") - 1]} ${part("year")}, ${clockTime(moment, zone)}`;
}

// A calendar day as written on the wire: "2026-03-14" is 14 Mar 2026.
export function day(text) {
  const [year, month, number] = text.split("-").map(Number);
  return `${number} ${MONTHS[month - 1]} ${year}`;
}

// When something is planned, beside the day it is now: "today, 14:00 to 15:30 CET", "30 Nov 2026, 14:00 to 15:30 CET".
export function planned(from, to, now, zone) {
  const [date] = dayTime(from, zone).split(",");
  const shown = date === dayTime(now, zone).split(",")[0] ? "today" : date;
  return `${shown}, ${clockTime(from, zone).split(" ")[0]} to ${clockTime(to, zone)}`;
}

// 3:07 of whole seconds passed; what is left is rounded up, so that 0:00 means it is over.
export function span(milliseconds, { up = false } = {}) {
  const seconds = Math.max(0, up ? Math.ceil(milliseconds / 1000) : Math.floor(milliseconds / 1000));
  return `${Math.floor(seconds / 60)}:${String(seconds % 60).padStart(2, "0")}`;
}

export const tenths = (milliseconds) => (Math.round(milliseconds / 100) / 10).toFixed(1);

export const ago = (moment, now) => {
  const minutes = Math.floor((now - moment) / 60_000);
  if (minutes < 1) return "just now";
  if (minutes < 60) return `${minutes} min ago`;
  const hours = Math.floor(minutes / 60);
  return hours < 48 ? `${hours} h ago` : `${Math.floor(hours / 24)} days ago`;
};
