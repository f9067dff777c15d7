/* What the version before kept on this device under other names, read as it is called now.

   With the next version every use of this module goes. */

/** What a field is called now. */
export const nameNow = (name) => name.replace(/^(lines-\d+-)put_off_until$/, "$1deferred_until");

/** What the value of a field is called now. */
export const valueNow = (name, value) => (/^lines-\d+-outcome$/.test(name) && value === "left" ? "deferred" : value);

/** Values by the names of their fields, all as they are called now. */
export const valuesNow = (values) =>
  Object.fromEntries(Object.entries(values).map(([name, value]) => [nameNow(name), valueNow(name, value)]));

/** The sentence that asks why work is deferred, from a page as kept now or before. */
export const whyDeferred = (sentences) => sentences.why_deferred ?? sentences.why_left;
