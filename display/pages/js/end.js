// @ts-check
// The end: the report of what is signed, and a calm page once the bench is left.

import { el, icon, setAttr, setShown, setText } from "./dom.js";
import { forgetTab } from "./tab.js";
import { t } from "./words.js";

export function createEnd() {
  const reportWords = el("span");
  const report = el("a", { class: "button act main report", target: "_blank", rel: "noopener" }, icon("file-text"), reportWords);
  const head = el("h2");
  const said = el("p");
  const again = el("button", { type: "button", class: "act main" });
  const left = el("main", { class: "left", hidden: true }, head, said, again);
  again.addEventListener("click", () => {
    forgetTab(); // a walk that was left is over
    location.reload();
  });
  return {
    report, left,
    /** @param {any} page @param {string} unit */
    show(page, unit) {
      const isSigned = page !== null && page.name === "over signed" && page.inspection !== null;
      setShown(report, isSigned);
      if (isSigned) setAttr(report, "href", `/report/${encodeURIComponent(page.inspection)}.pdf?${new URLSearchParams({ unit })}`);
      setText(reportWords, t("the report, to be printed and filed"));
      setText(head, t("You have left the bench."));
      setText(said, t("Nothing at the bay was ended by that: what runs goes on, and can be gone on with."));
      setText(again, t("open again"));
    },
  };
}
