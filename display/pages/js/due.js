// @ts-check
// Which engines are due, to be picked instead of typed; where the register cannot be asked there is no list.

import { now as pageNow } from "./clock.js";
import { el, setShown, setText } from "./dom.js";
import { get } from "./settings.js";
import { told } from "./told.js";
import { shape } from "./verdict.js";
import { t } from "./words.js";

/** What an engine's state is called, and the outcome whose shape stands for it. @type {Record<string, [() => string, string]>} */
const STATES = {
  overdue: [() => t("overdue"), "over"],
  due: [() => t("due"), "unclear"],
  unknown: [() => t("cannot be told"), "invalid"],
  "due-soon": [() => t("due soon"), "missing"],
  ok: [() => t("not due yet"), "within"],
};

/** Milliseconds between two questions while the list is shown: another damper may be on an engine by now. */
const AGAIN_MS = 300_000;

/**
 * @param {(engine: string, damper: string) => void} choose
 * @param {() => number} [now]
 */
export function createDue(choose, now = pageNow) {
  const title = el("summary");
  const list = el("ul");
  const node = el("details", { class: "due-list", hidden: true, open: true }, title, list);
  /** @type {any[] | null} */
  let engines = null;
  let askedAt = -Infinity;
  let written = "";

  async function ask() {
    const before = JSON.stringify(engines);
    try {
      const answer = await fetch("/api/due");
      engines = answer.ok ? (await answer.json()).engines ?? [] : [];
    } catch {
      engines = [];
    }
    if (JSON.stringify(engines) !== before) write(); // nobody loses their place for nothing
    setShown(node, (engines ?? []).length > 0);
  }

  function write() {
    written = get().lang;
    list.replaceChildren(...(engines ?? []).map(row));
  }

  /** @param {any} one */
  function row(one) {
    const [word, kind] = STATES[one.state] ?? [() => one.state, "missing"];
    const mark = shape();
    mark.show(kind);
    const button = el(
      "button",
      { type: "button", class: "act", title: one.sentences?.[0] === undefined ? null : told(one.sentences[0]).text },
      mark.node,
      el("span", { class: "act-words" }, el("span", { class: "act-head" }, `${one.engine} · ${one.fleet}`),
        el("span", { class: "act-rest" }, [word(), one.day, one.damper].filter(Boolean).join(" · "))),
    );
    button.addEventListener("click", () => choose(one.engine, one.damper ?? ""));
    return el("li", {}, button);
  }

  return {
    node,
    /** @param {boolean} isWanted */
    show(isWanted) {
      setText(title, t("Pick an engine, the most urgent first"));
      if (isWanted && now() - askedAt > AGAIN_MS) {
        askedAt = now();
        ask();
      }
      if (!isWanted) askedAt = -Infinity;
      if (written !== "" && written !== get().lang) write();
      setShown(node, isWanted && (engines?.length ?? 0) > 0);
    },
  };
}
