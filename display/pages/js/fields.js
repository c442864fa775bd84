// @ts-check
// What is typed on a page: one field below the other, or a word out of few by one touch.

import { el, setAttr, setText } from "./dom.js";
import { t } from "./words.js";

/** @typedef {{id: string, label: string, hint: string, number: boolean, value: string, options: string[]}} Field */

/** @type {Record<string, () => string>} */
const WORDS = {
  rolled: () => t("rolled"), welded: () => t("welded"), viscous: () => t("viscous"), rubber: () => t("rubber"),
  outer: () => t("outer"), inner: () => t("inner"), zero: () => t("zero"),
};

/** @param {ReturnType<typeof import("./texts.js").createTexts>} texts */
export function createFields(texts) {
  const node = el("form", { class: "fields", autocomplete: "off", novalidate: true });
  node.addEventListener("submit", (event) => event.preventDefault());
  /** @type {Field[]} */
  let shown = [];

  /** @param {Field} field */
  const textOf = (field) => texts.get(field.id) ?? field.value;
  const inputs = () => /** @type {HTMLInputElement[]} */ ([...node.querySelectorAll('input[type="text"]')]);
  /** @param {string} id */
  const inputOf = (id) => inputs().find((input) => input.name === id);

  return {
    node,
    /** Made anew. @param {Field[]} fields */
    build(fields) {
      shown = fields;
      node.hidden = fields.length === 0;
      setAttr(node, "data-count", fields.length);
      node.replaceChildren(...fields.map((field, n) => (field.options.length ? words(field) : line(field, n === fields.length - 1))));
    },
    /** Written anew with what is so now, as after some of it has served. @param {Field[]} fields */
    write(fields) {
      shown = fields;
      for (const field of fields) {
        const input = inputOf(field.id);
        if (input !== undefined) input.value = textOf(field);
        for (const radio of /** @type {NodeListOf<HTMLInputElement>} */ (node.querySelectorAll(`input[type="radio"]`))) {
          if (radio.name === field.id) radio.checked = radio.value === textOf(field);
        }
      }
    },
    /** The field whose text is not what it is for; null where none is. @param {string | null} id */
    wrong(id) {
      for (const input of inputs()) setAttr(input, "aria-invalid", input.name === id ? "true" : null);
      if (id !== null) inputOf(id)?.focus();
    },
    /** What is typed, by field. */
    typed: () => Object.fromEntries(shown.map((field) => [field.id, textOf(field)])),
    /** The first that is empty, of those after one; undefined where none is. @param {HTMLInputElement | null} [after] */
    empty(after = null) {
      const all = inputs();
      return all.slice(after === null ? 0 : all.indexOf(after) + 1).find((input) => input.value.trim() === "");
    },
    /** @param {string} id @param {string} text */
    put(id, text) {
      const input = inputOf(id);
      if (input === undefined) return;
      input.value = text;
      input.dispatchEvent(new Event("input", { bubbles: true }));
    },
    first: () => inputs().find((input) => input.value.trim() === "") ?? inputs()[0],
  };

  /** @param {Field} field @param {boolean} isLast */
  function line(field, isLast) {
    const id = `field-${field.id}`;
    const input = /** @type {HTMLInputElement} */ (
      el("input", {
        type: "text", id, name: field.id, autocomplete: "off", autocapitalize: "off", spellcheck: "false",
        inputmode: field.number ? "decimal" : "text", enterkeyhint: isLast ? "done" : "next",
        maxlength: 500, "aria-describedby": field.hint ? `${id}-hint` : null,
      })
    );
    input.value = textOf(field);
    input.addEventListener("input", () => {
      texts.set(field.id, input.value, field.number);
      setAttr(input, "aria-invalid", null);
    });
    return el("div", { class: field.number ? "field number" : "field" }, label(field, { for: id }), input, hint(field, id));
  }

  /** @param {Field} field */
  function words(field) {
    const group = el("fieldset", { class: "field words" });
    const legend = el("legend");
    setText(legend, field.label);
    const row = el("div", { class: "words-row" });
    for (const option of field.options) {
      const radio = /** @type {HTMLInputElement} */ (el("input", { type: "radio", name: field.id, value: option }));
      radio.checked = textOf(field) === option;
      // Touched once more it is taken back: the field may be left empty.
      let was = radio.checked;
      const note = () => {
        for (const other of row.querySelectorAll("input")) /** @type {any} */ (other).note();
        texts.set(field.id, radio.checked ? option : "", false);
      };
      Object.assign(radio, { note: () => (was = radio.checked) });
      radio.addEventListener("click", () => {
        if (was) radio.checked = false;
        note();
      });
      radio.addEventListener("change", note);
      row.append(el("label", {}, radio, el("span", {}, WORDS[option]?.() ?? option)));
    }
    group.append(legend, row);
    return group;
  }
}

/** @param {Field} field @param {Record<string, string>} attrs */
function label(field, attrs) {
  return el("label", attrs, field.label);
}

/** @param {Field} field @param {string} id */
function hint(field, id) {
  return el("p", { class: "hint", id: `${id}-hint` }, field.hint);
}
