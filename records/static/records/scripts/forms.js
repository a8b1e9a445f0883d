// Pages with plain forms: each goes once.
import { watchForms } from "./once.js";

watchForms(document);
