// Fields that somebody writes in: what stands in one is used, or else it is said beside it what may stand there.

import { put } from "./words.js";

// The whole number in `field`, null where it holds none or one out of its range; `allowed` says what may stand there.
export function wholeNumber(field, allowed) {
  const value = Number(field.value);
  const fits = field.value !== "" && Number.isInteger(value) && value >= Number(field.min) && value <= Number(field.max);
  say(field, allowed, fits ? "" : `${field.labels[0].firstChild.data.trim()}: a whole number from ${field.min} to ${field.max}`);
  return fits ? value : null;
}

// The text in `field` without blanks around it, null where it is none that may be.
export function name(field, allowed) {
  field.value = field.value.trim();
  const fits = field.checkValidity();
  say(field, allowed, fits ? "" : "Player: a letter or digit first, then letters, digits, blanks, dots, - and _");
  return fits ? field.value : null;
}

function say(field, allowed, words) {
  field.setAttribute("aria-invalid", Boolean(words));
  put(allowed, words);
}
