// @ts-check
// What is typed and has not served yet, by the id of its field: kept over a reload, and while the server is away.

const HEAD = "typed:";
const FORGOTTEN = "forgotten";
const UNIT = "unit";
const OF = "of";
const PERSON = "person";
/** The form of the inspection that is to be opened next. */
const FORM = "open.";

/** @typedef {{text: string, sent: boolean, number: boolean}} Kept */

/** @param {Storage} [storage] */
export function createTexts(storage = sessionStorage) {
  /** @param {string} id @returns {Kept | null} */
  function kept(id) {
    try {
      return JSON.parse(storage.getItem(HEAD + id) ?? "null");
    } catch {
      return null;
    }
  }
  const ids = () => Object.keys(storage).filter((key) => key.startsWith(HEAD)).map((key) => key.slice(HEAD.length));
  /** @param {string} id @param {Kept} one */
  const keep = (id, one) => storage.setItem(HEAD + id, JSON.stringify(one));

  /** Whether what is kept by this name is another now; what was never told is none. @param {string} key @param {string} now */
  function changed(key, now) {
    const before = storage.getItem(key);
    if (before === now) return false;
    storage.setItem(key, now);
    return before !== null;
  }

  return {
    /** The text of a field; null where nothing was typed here. @param {string} id */
    get: (id) => kept(id)?.text ?? null,
    /** @param {string} id @param {string} text @param {boolean} number */
    set: (id, text, number) => keep(id, { text, sent: false, number }),
    /** They are the server's too now. @param {readonly string[]} sent */
    sent(sent) {
      for (const id of sent) {
        const one = kept(id);
        if (one !== null) keep(id, { ...one, sent: true });
      }
    },
    /**
     * What the server tells of texts that have served: true where some may be gone. Those that it never had stay.
     * @param {number} forgotten
     */
    served(forgotten) {
      const before = Number(storage.getItem(FORGOTTEN) ?? 0);
      if (forgotten === before) return false;
      storage.setItem(FORGOTTEN, String(forgotten));
      if (forgotten < before) return false; // another walk, which has had nothing yet
      for (const id of ids()) if (kept(id)?.sent) storage.removeItem(HEAD + id);
      return true;
    },
    /**
     * The page that is shown is in this unit: numbers typed in another are wrong in it, also those of before a
     * reload. True where some may be gone.
     * @param {string} unit
     */
    inUnit(unit) {
      if (!changed(UNIT, unit)) return false;
      for (const id of ids()) if (kept(id)?.number) storage.removeItem(HEAD + id);
      return true;
    },
    /**
     * What was typed of one inspection stands in no field of another, and what one person typed in none of
     * another's. True where some may be gone. Of: the inspection, null where the page is of none.
     * @param {string} person @param {string | null} of
     */
    whose(person, of) {
      const isAnother = changed(PERSON, person);
      const isOther = of !== null && changed(OF, of);
      for (const id of ids()) if (isAnother || (isOther && !id.startsWith(FORM))) storage.removeItem(HEAD + id);
      return isAnother || isOther;
    },
    /** As where a person has left. */
    dropAll() {
      for (const id of ids()) storage.removeItem(HEAD + id);
      storage.removeItem(FORGOTTEN);
    },
  };
}
