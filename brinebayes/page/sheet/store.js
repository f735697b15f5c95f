// Where visits are kept between two openings of the page. Some browsers empty this storage, or have
// none for a page opened from a file: the page then says so, and a saved file is what counts.

const KEY = "brinebayes.visit.";

class Store {
  constructor(storage) {
    this.storage = null;
    this.memory = new Map();
    try {
      storage.setItem("brinebayes.probe", "1");
      storage.removeItem("brinebayes.probe");
      this.storage = storage;
    } catch {
      // Not allowed here; visits last as long as the page is open.
    }
  }

  get lasting() {
    return this.storage !== null;
  }

  keys() {
    const all = this.storage ? Array.from({ length: this.storage.length }, (_, i) => this.storage.key(i)) : [...this.memory.keys()];
    return all.filter((key) => key.startsWith(KEY));
  }

  // Returns whether it is kept for good.
  put(visit) {
    const text = visitText(visit);
    this.memory.set(KEY + visit.id, text);
    if (!this.storage) return false;
    try {
      this.storage.setItem(KEY + visit.id, text);
      return true;
    } catch {
      return false;
    }
  }

  text(key) {
    return this.storage ? this.storage.getItem(key) : this.memory.get(key);
  }

  // Every visit kept, the newest first: {visit} or {damaged: text}, with its key.
  all() {
    const found = this.keys().map((key) => {
      const text = this.text(key);
      try {
        return { key, visit: parseVisit(text) };
      } catch (error) {
        return { key, damaged: text, why: error.message };
      }
    });
    return found.sort((a, b) => byName(b.visit?.at ?? "", a.visit?.at ?? ""));
  }

  setting(name, value) {
    try {
      if (value !== undefined) this.storage.setItem(`brinebayes.${name}`, value);
      return this.storage.getItem(`brinebayes.${name}`);
    } catch {
      return null;
    }
  }

  remove(key) {
    this.memory.delete(key);
    this.storage?.removeItem(key);
  }
}
