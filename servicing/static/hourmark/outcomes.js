/* What came of a task, in words. */

import { gettext } from "./language.js";

const WORDS = {
  done: gettext("done"),
  adjusted: gettext("adjusted"),
  deferred: gettext("deferred"),
  referred: gettext("referred"),
  "not fitted": gettext("not fitted"),
};

export const outcomeWord = (outcome) => WORDS[outcome] ?? outcome;
