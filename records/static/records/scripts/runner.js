// Starts what helps on the page of a run. Without scripts every step still works by its form.
import { watchForms } from "./once.js";
import { watchOutlets } from "./outlets.js";
import { watchTimers } from "./timer.js";

watchForms(document);
watchTimers(document);
watchOutlets(document);
