// What cannot be judged is refused in words: which field, what is wrong with it, what to do.

export class Refused extends Error {
  constructor(code, reasons) {
    super(reasons.map(sentenceOf).join("; "));
    this.code = code;
    this.reasons = reasons;
  }
}

export const reason = (field, value, detail, remedy) =>
  ({ field, value: value === undefined || value === null ? "" : String(value).slice(0, 60), detail, remedy });

export const refused = (code, field, value, detail, remedy) =>
  new Refused(code, [reason(field, value, detail, remedy)]);

export function sentenceOf({ field, value, detail, remedy }) {
  const head = field && value ? `${field} “${value}”: ` : field ? `${field}: ` : "";
  return `${head}${detail}${remedy ? ` – ${remedy}` : ""}`;
}
