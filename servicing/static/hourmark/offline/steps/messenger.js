/* Carries what is kept on this phone to the house, and brings back what others did meanwhile. */

import { status } from "../../dom.js";
import { gettext } from "../../language.js";
import { Queue, meaning, refusal } from "../queue.js";
import { refused as sentence } from "../standing.js";
import { onChange } from "../store.js";
import { addTyped, compare, labelOf, said as valueOf, show } from "./differ.js";
import * as fields from "./fields.js";
import { dropPhoto, forget, keepPhoto, load, photosOf } from "./kept.js";
import * as screen from "./screen.js";
import { standing } from "./words.js";
import { bodyOf, fieldAt, order as fetchOrder, send, sendPhoto } from "./send.js";

const WITH_CLOSING = /^(hours|further-|helper-)/; // what only closing takes

export class Messenger {
  visible = ""; // the line whose step is on the screen: it is sent when it is left
  #held = new Set(); // lines the house would not take as they are: not sent again until something is typed
  #clash = false; // a person is asked to choose
  #asked = new Set(); // the lines still to choose about
  #told = ""; // what the house said that no field shows
  #all = false;
  #pageKept = null;
  #warned = "";
  #place;
  #queue;

  constructor({ work, facts, key, keep, leave }) {
    Object.assign(this, { work, facts, key, keep, leave });
    this.#place = work.querySelector("[data-differ]");
    this.#queue = new Queue(`order-${key}`, () => this.#sendAll(), () => {
      this.#all = false;
      return this.paint();
    });
  }

  /** Send when there is a line again, and say what other windows changed. */
  watch() {
    this.#queue.watch();
    for (const store of ["orders", "photos"]) onChange(store, () => this.paint());
  }

  /** Something more of this line was typed: it may be sent again. */
  touched(group) {
    this.#held.delete(group);
    this.#told = "";
  }

  /** Forget what was wrong with a line (null: with all) where something was typed since: it is looked at again. */
  async looked(line) {
    await this.keep((kept) => {
      for (const name of Object.keys(kept.refused)) {
        const group = fields.groupOf(name);
        if ((line === null || group === String(line)) && !this.#held.has(group)) this.#right(kept, name);
      }
    });
  }

  /** Say what a line lacks (null: the whole order), where the house hasn't said it. */
  async lacks(line, wrong) {
    const kept = await this.keep((now) => {
      for (const [name, sentence] of wrong) now.refused[name] ??= sentence;
    });
    for (const [name] of wrong) {
      if (line === null || fields.groupOf(name) === String(line)) fields.wrong(name, kept.refused[name]);
    }
    await this.paint();
  }

  /** Whether something of a line isn't accepted as it stands. */
  async refuses(line) {
    const kept = await load(this.key);
    return Object.keys(kept.refused).some((name) => fields.groupOf(name) === String(line));
  }

  /** Whether a person has yet to choose what is to stand of a line. */
  asks(line) {
    return this.#asked.has(String(line));
  }

  pageKept(is) {
    this.#pageKept = is;
    this.paint();
  }

  /** On opening: the page may be newer than what was kept, or, from this phone's own store, older. */
  async catchUp(kept, page) {
    if (kept.revision >= page.revision) return;
    try {
      const order = await fetchOrder(this.facts);
      await this.#meet(fields.recorded(order), { ...order, order });
    } catch {
      await this.#meet(page.base, { revision: page.revision, state: this.facts.state });
    }
  }

  /** Send what can be sent. `all`: the step on the screen too. */
  send({ all = false } = {}) {
    this.#all ||= all;
    return this.#queue.send();
  }

  async #sendAll() {
    const kept = await load(this.key);
    if (this.#clash) await this.#warn(kept);
    else if (kept) await this.#sendReady(kept);
  }

  async #sendReady(kept) {
    const ready = this.#ready(kept);
    const photos = (await photosOf(this.key)).filter((photo) => !photo.refused);
    if (!ready.length && !kept.closing && !photos.length) return;
    this.#told = "";
    if (navigator.onLine) status(this.work, { text: gettext("Sending…") });
    for (const photo of photos) await this.#photo(photo);
    if (ready.length || kept.closing) await this.#record(kept, ready);
  }

  async #record(kept, ready) {
    const sent = Object.fromEntries(ready.map((name) => [name, kept.typed[name]]));
    const body = bodyOf(this.facts, { ...kept.base, ...sent }, kept.revision, kept.closing);
    try {
      await this.#taken(await send(this.facts, body, kept.closing), sent);
    } catch (error) {
      const means = meaning(error);
      if (means === "conflict") await this.#moved(sentence(error.message));
      else if (means === "refused") await this.#refuse(error, body, kept, sent);
      else throw error;
    }
  }

  /** While a person has yet to choose: the house refuses what is sent, but tags out by a check that failed. */
  async #warn(kept) {
    const failed = screen.failed(this.facts, kept.typed);
    if (!failed || failed === this.#warned) return;
    try {
      await send(this.facts, bodyOf(this.facts, { ...kept.base, ...kept.typed }, kept.revision, 0), 0);
    } catch (error) {
      if (!["conflict", "refused"].includes(meaning(error))) throw error; // it is tried again
    }
    this.#warned = failed;
    await this.#hear();
  }

  #ready(kept) {
    const names = Object.keys(kept.typed);
    if (kept.closing) return names;
    return names.filter((name) => {
      const group = fields.groupOf(name);
      return (this.#all || group !== this.visible) && !this.#held.has(group) && !WITH_CLOSING.test(name);
    });
  }

  async #photo(photo) {
    try {
      const { url } = await sendPhoto(this.facts, photo);
      await dropPhoto(photo.id);
      screen.sentPhoto(this.work, photo.line, url);
    } catch (error) {
      await keepPhoto({ ...photo, refused: refusal(error, { photo: true }) });
    }
  }

  /** The house has it: what was sent is recorded now, unless it was typed over meanwhile. */
  async #taken(order, sent) {
    const base = fields.recorded(order);
    const kept = await this.keep((now) => {
      for (const [name, value] of Object.entries(sent)) if (now.typed[name] === value) delete now.typed[name];
      const groups = new Set(Object.keys(sent).map(fields.groupOf));
      for (const name of Object.keys(now.refused)) if (groups.has(fields.groupOf(name))) this.#right(now, name);
      Object.assign(now, { base, revision: order.revision });
      if (order.state !== "started") now.closing = 0;
    });
    screen.taggedOut(this.work, this.facts, order.tagged_out);
    if (order.state === "started") {
      this.#write(kept, base);
      return;
    }
    if (!kept.aside.length && !Object.keys(kept.typed).length) await forget(this.key);
    this.leave();
  }

  /** Ask for the order as it stands in the house, and say what is tagged out. */
  async #hear() {
    const order = await fetchOrder(this.facts);
    screen.taggedOut(this.work, this.facts, order.tagged_out);
    return order;
  }

  /** The order has moved on, the house says. */
  async #moved(said) {
    const order = await this.#hear();
    await this.#meet(fields.recorded(order), { ...order, order, said });
  }

  #right(kept, name) {
    delete kept.refused[name];
    fields.right(name);
  }

  /** Say beside each field what is wrong with it, unless it was typed over meanwhile; the other lines are sent. */
  async #refuse({ problem: { errors = [] }, message }, body, kept, sent) {
    this.#told = errors.length ? "" : sentence(message);
    const { typed } = await load(this.key);
    const wrong = errors
      .map(({ detail, pointer }) => [fieldAt(pointer ?? "", body), detail])
      .filter(([name]) => typed[name] === sent[name]);
    let first = null;
    for (const [name, sentence] of wrong) {
      const step = fields.wrong(name, sentence);
      this.#held.add(fields.groupOf(name));
      first ??= step;
      if (name === "hours") this.work.querySelector("[data-confirm-hours]").hidden = false;
    }
    await this.keep((now) => {
      const groups = new Set(wrong.map(([name]) => fields.groupOf(name)));
      for (const name of Object.keys(now.refused)) {
        if (groups.has(fields.groupOf(name)) && !wrong.some(([each]) => each === name)) this.#right(now, name);
      }
      Object.assign(now.refused, Object.fromEntries(wrong));
      now.closing = 0;
    });
    if (kept.closing) {
      if (first) screen.show(this.work, first.dataset.step);
      this.visible = first?.dataset.line ?? this.visible;
    }
    await this.#keptAllTheSame();
    if (errors.length && this.#ready(await load(this.key)).length) this.#queue.send();
  }

  /** Of what was refused the house keeps what can hurt somebody: hear which that is, and what is tagged out. */
  async #keptAllTheSame() {
    try {
      const order = await this.#hear();
      const base = fields.recorded(order);
      const kept = await load(this.key);
      if (compare(kept, base).clashes.size) return; // somebody else's: what is sent next is told so
      await this.keep((now) => {
        for (const [name, value] of Object.entries(now.typed)) if (fields.at(base, name) === value) delete now.typed[name];
        Object.assign(now, { base, revision: order.revision });
      });
    } catch {
      // the line is gone again, or the house refuses: what is sent next is told so
    }
  }

  /** The order has moved on. Where both entered something, a person chooses; the rest is taken as it is. */
  async #meet(theirs, { revision, state, said = "", order = null }) {
    const canSend = state === "started";
    const kept = await this.keep((now) => { if (!canSend) now.closing = 0; });
    const { clashes, changes } = compare(kept, theirs);
    const over = !canSend && Object.keys(kept.typed).length > 0;
    if (!clashes.size && !over) {
      const now = await this.keep((each) => Object.assign(each, { base: theirs, revision }));
      this.#write(now, theirs);
      if (canSend) this.#queue.send();
    } else {
      this.#clash = true;
    }
    if (!clashes.size && !changes.length && !over) return;
    if (over) addTyped(clashes, kept, theirs);
    const asked = new Set(clashes.keys());
    this.#asked = asked;
    const choose = async (group, choice) => {
      asked.delete(group);
      if (choice === "theirs") await this.#yield(group, clashes.get(group), theirs);
      else await this.#insist(group, theirs);
      if (asked.size) return;
      const now = await this.keep((each) => Object.assign(each, { base: theirs, revision }));
      this.#write(now, theirs);
      this.#clash = false;
      this.#told = "";
      this.#place.replaceChildren();
      await this.send({ all: true });
    };
    const seen = () => this.#place.replaceChildren();
    const words = { why: said || gettext("This is what is recorded now."), order, canSend, choose, seen };
    show(this.#place, { facts: this.facts, kept, theirs, clashes, changes, ...words });
  }

  /** Put mine on top for one line; but nothing never takes the place of something. */
  async #insist(group, theirs) {
    await this.keep((kept) => {
      for (const [name, value] of Object.entries(kept.typed)) {
        if (fields.groupOf(name) === group && !value.trim() && fields.at(theirs, name)) delete kept.typed[name];
      }
    });
  }

  /** Take theirs for one line; what was typed is set aside, to be read and copied. */
  async #yield(group, names, theirs) {
    await this.keep((kept) => {
      for (const name of names.filter((each) => each in kept.typed)) {
        kept.aside.push({ label: labelOf(this.facts, name), value: valueOf(kept.typed, name), at: Date.now() });
      }
      for (const name of Object.keys(kept.typed)) if (fields.groupOf(name) === group) delete kept.typed[name];
    });
    for (const name of fields.names()) {
      if (fields.groupOf(name) === group) fields.write(name, fields.at(theirs, name));
    }
  }

  /** Show what is recorded wherever nothing else was typed. */
  #write(kept, base) {
    for (const [name, value] of Object.entries(base)) if (!(name in kept.typed)) fields.write(name, value);
    for (const check of Object.keys(this.facts.judging)) screen.judged(this.work, this.facts, check);
  }

  /** Say where what was typed is by now. */
  async paint() {
    const kept = await load(this.key);
    if (!kept) return;
    const photos = await photosOf(this.key);
    screen.overview(this.work, this.facts, kept);
    screen.photos(this.work, photos);
    const names = Object.keys(kept.typed).filter((name) => !name.endsWith("_unit"));
    const atClosing = names.filter((name) => WITH_CLOSING.test(name)).length;
    const refused = Object.keys(kept.refused);
    const groups = new Set(refused.map(fields.groupOf));
    const ready = names.filter((name) => !WITH_CLOSING.test(name) && !groups.has(fields.groupOf(name)));
    const waits = ready.length + photos.filter((photo) => !photo.refused).length;
    const { left } = this.#queue;
    const stand = { waits, atClosing, closing: kept.closing, clash: this.#clash, told: this.#told, left };
    const page = { pageKept: this.#pageKept, signIn: this.facts.sign_in };
    status(this.work, { link: this.#link(refused), ...standing({ ...stand, ...page, refused: refused.length }) });
  }

  /** Where to go from the line at the top: to the step with what isn't accepted. */
  #link(refused) {
    const step = refused.map((name) => screen.stepOf(this.work, name)).find(Boolean);
    return step && !this.#clash ? { href: `?step=${step}`, text: gettext("Look at it"), go: step } : null;
  }
}
