/** @file What is open, whether the server is there, and the tasks that run. */
import { SvelteMap } from "svelte/reactivity";

import { api, Gone, Refused, told, type Schemas, type Trouble } from "../api/client";
import { allKept, writes } from "../api/keeping";
import { words } from "../words/en";
import type { Units } from "../words/units";
import { SharedEvents } from "./events";

export type Job = Schemas["Job"];
type Listener = (changed: Schemas["Changed"] | null) => void;

/** How long to wait before looking for a lost server again [ms]. */
const LOOK_AGAIN_MS = 1500;
const UNFINISHED = new Set(["waiting", "running"]);
const BROKEN = new Set(["crashed", "interrupted"]);
/** Where the browser keeps which tasks run, and which broken ones were left. */
const FOLLOWED = "wherestood.followed";
const LEFT = "wherestood.left";
const MOST_LEFT = 200;
/** How long it is said at the top what was done [ms]. */
const SHOWN_MS = 8000;

function keptIds(name: string): string[] {
  return (localStorage.getItem(name) ?? "").split(" ").filter(Boolean);
}

function keepIds(name: string, ids: string[]): void {
  localStorage.setItem(name, ids.join(" "));
}

class Daybook {
  state = $state<Schemas["State"] | null>(null);
  history = $state<Schemas["HistoryTold"] | null>(null);
  jobs = new SvelteMap<string, Job>();
  /** The server did not answer when last asked. */
  gone = $state(false);
  /** The page was opened without the address that lets it in. */
  locked = $state(false);
  /** What last went wrong, said where the person is looking. */
  trouble = $state<Trouble | null>(null);
  /** What was last done, for those who listen rather than look. */
  said = $state("");
  /** What was last taken back or brought, at the top for a while. */
  shown = $state("");
  #shownFor: ReturnType<typeof setTimeout> | undefined;

  #diaries = 0;
  /** How many writes of this window the history knows of. */
  #historyOf = 0;
  /** How often the history was asked for, and the last of these. */
  #readings = 0;
  #reading: Promise<void> = Promise.resolve();
  #events: SharedEvents | null = null;
  #listeners = new Set<Listener>();
  #turns: Promise<unknown> = Promise.resolve();
  /** How often something was taken back or brought again by this window. */
  takenBack = 0;
  #waiters = new Map<string, (job: Job) => void>();

  /** In which lengths are told and typed. */
  units = $derived<Units>(this.state?.settings.units ?? "metric");
  running = $derived([...this.jobs.values()].filter((job) => UNFINISHED.has(job.state)));

  async open(): Promise<void> {
    await this.reload();
    this.#listen();
  }

  async reload(): Promise<void> {
    try {
      this.state = await told(api.GET("/api/state"));
      this.gone = false;
      if (this.state.daybook) await this.#reloadHistory();
    } catch (reason) {
      if (reason instanceof Gone) this.#lost();
      else if (reason instanceof Refused && reason.status === 401) this.locked = true;
      else this.show(reason);
    }
  }

  async #reloadHistory(): Promise<void> {
    const mine = this.#readHistory(++this.#readings);
    this.#reading = mine.catch(() => undefined);
    await mine;
  }

  async #readHistory(reading: number): Promise<void> {
    const known = writes.open === 0 ? writes.begun : -1;
    const history = await told(
      api.GET("/api/history", { params: { query: { last: this.#diaries > 0 ? 50 : 1 } } }),
    );
    // One asked for later may be answered before or after: who waits has that one.
    if (reading !== this.#readings) return this.#reading;
    this.history = history;
    this.#historyOf = known;
  }

  /** Have the whole history told while somebody reads it; else what undo would take back. */
  readDiary(): () => void {
    this.#diaries++;
    void this.#reloadHistory().catch(() => undefined);
    return () => this.#diaries--;
  }

  /** Call back whenever the daybook was changed, by this tab or another. */
  onChange(listener: Listener): () => void {
    this.#listeners.add(listener);
    return () => this.#listeners.delete(listener);
  }

  #listen(): void {
    if (this.locked || this.#events) return;
    this.#events = new SharedEvents((heard) => {
      if (heard.event === "job") this.#job(heard.data as Job);
      else if (heard.event === "changed") this.#changed(heard.data as Schemas["Changed"]);
      else if (heard.event === "lost") this.#lost();
      else {
        void this.#catchUp();
        if (this.gone) void this.#back();
      }
    });
    // Another window may hold the stream, and its beginning is over.
    void this.#catchUp();
  }

  #changed(changed: Schemas["Changed"]): void {
    const daybook = this.state?.daybook;
    if (daybook) daybook.revision = changed.revision;
    if (changed.tables.includes("settings")) void this.reload();
    else void this.#reloadHistory().catch(() => undefined);
    for (const listener of this.#listeners) listener(changed);
  }

  #lost(): void {
    if (this.gone) return;
    this.gone = true;
    const again = (): void => {
      if (!this.gone) return;
      told(api.GET("/api/state")).then(
        () => this.#back(),
        () => setTimeout(again, LOOK_AGAIN_MS),
      );
    };
    setTimeout(again, LOOK_AGAIN_MS);
  }

  async #back(): Promise<void> {
    this.gone = false;
    await this.reload();
    if (this.#events) this.#events.mend();
    else this.#listen();
    for (const listener of this.#listeners) listener(null);
  }

  /** Hear of tasks that ended while nobody listened, and of those that broke off. */
  async #catchUp(): Promise<void> {
    const jobs = await told(api.GET("/api/jobs", { params: { query: {} } })).catch(() => []);
    const left = new Set(keptIds(LEFT));
    const followed = new Set(keptIds(FOLLOWED));
    for (const job of jobs) {
      const over = !UNFINISHED.has(job.state);
      const known = this.jobs.get(job.id);
      if (over && ((known && UNFINISHED.has(known.state)) || followed.has(job.id))) this.#job(job);
      else if (!over) this.jobs.set(job.id, job);
      else if (BROKEN.has(job.state) && !left.has(job.id)) this.jobs.set(job.id, job);
    }
    this.#noteFollowed();
  }

  /** Note what runs, for the page that comes after a reload. */
  #noteFollowed(): void {
    keepIds(
      FOLLOWED,
      this.running.map(({ id }) => id),
    );
  }

  /** Put a task that broke off out of sight. */
  leave(job: Job): void {
    this.jobs.delete(job.id);
    keepIds(LEFT, [...keptIds(LEFT), job.id].slice(-MOST_LEFT));
  }

  #job(job: Job): void {
    this.jobs.set(job.id, job);
    this.#noteFollowed();
    if (UNFINISHED.has(job.state)) return;
    this.#waiters.get(job.id)?.(job);
    this.#waiters.delete(job.id);
    if (job.trouble) this.trouble = job.trouble;
    else if (job.state === "done") {
      const notes = job.result?.notes ?? [];
      const ended = words.jobs.done(job.title);
      if (notes.length && job.kind === "scan") this.say([ended, ...notes].join(" "));
      else this.said = ended;
    }
  }

  /** Follow a task to its end. */
  follow(job: Job): Promise<Job> {
    const known = this.jobs.get(job.id);
    if (known && !UNFINISHED.has(known.state)) return Promise.resolve(known);
    if (!known) this.jobs.set(job.id, job);
    return new Promise((resolve) => this.#waiters.set(job.id, resolve));
  }

  async cancel(job: Job): Promise<void> {
    await this.try(() =>
      told(api.POST("/api/jobs/{job_id}/cancel", { params: { path: { job_id: job.id } } })),
    );
  }

  async again(job: Job): Promise<void> {
    this.leave(job);
    await this.try(() =>
      told(api.POST("/api/jobs/{job_id}/again", { params: { path: { job_id: job.id } } })),
    );
  }

  /** Do what the person asked for; once it is done, what went wrong before is over. */
  async act<T>(act: () => Promise<T>): Promise<T | undefined> {
    let done = false;
    const given = await this.try(async () => {
      const result = await act();
      done = true;
      return result;
    });
    if (done) this.trouble = null;
    return given;
  }

  /**
   * Do something; tell the person if it fails, and return what it gave.
   *
   * What was told stays until it is closed, or until something they ask for is done.
   */
  async try<T>(act: () => Promise<T>): Promise<T | undefined> {
    try {
      return await act();
    } catch (reason) {
      this.show(reason);
      return undefined;
    }
  }

  show(reason: unknown): void {
    if (reason instanceof Gone) this.#lost();
    else if (reason instanceof Refused) this.trouble = reason.trouble;
    else throw reason;
  }

  /** Do one thing after another, what is taken back among them: none sees half of another. */
  inTurn<T>(act: () => Promise<T>): Promise<T> {
    const mine = this.#turns.then(act);
    this.#turns = mine.catch(() => undefined);
    return mine;
  }

  /**
   * Have the history as it is after all that was done in this window.
   *
   * What was done elsewhere counts once it is heard of: it may be on the screen before
   * the history has come. Who presses has seen nothing later.
   */
  async #ownHistory(): Promise<void> {
    await this.#reading;
    if (this.#historyOf !== writes.begun) await this.#reloadHistory().catch(() => undefined);
  }

  /** Do something once all that this window has to write is written, or refused. */
  async #settled(act: () => Promise<void>): Promise<void> {
    await allKept().catch(() => undefined);
    await this.inTurn(act);
  }

  /** Take back what the button names, whatever was done elsewhere meanwhile. */
  async undo(): Promise<void> {
    await this.#settled(() => this.#undo());
  }

  async #undo(): Promise<void> {
    await this.#ownHistory();
    const act = this.history?.undo_act;
    if (!act) return;
    const back = await this.act(() => told(api.POST("/api/undo", { body: { act } })));
    await this.#tookBack(back, words.tookBack);
  }

  async redo(): Promise<void> {
    await this.#settled(() => this.#redo());
  }

  async #redo(): Promise<void> {
    await this.#ownHistory();
    const act = this.history?.redo_act;
    if (!act) return;
    const again = await this.act(() => told(api.POST("/api/redo", { body: { act } })));
    await this.#tookBack(again, words.didAgain);
  }

  async #tookBack(
    done: Schemas["TakenBackTold"] | undefined,
    inWords: (what: string) => string,
  ): Promise<void> {
    this.takenBack++;
    if (done) {
      const [first = "", ...more] = done.sentences;
      this.say(inWords(more.length ? `${first} ${words.andMore(more.length)}` : first));
    }
    await this.#reloadHistory().catch(() => undefined);
  }

  /** Say what was done: at the top for a while, and to those who listen. */
  say(sentence: string): void {
    this.said = sentence;
    this.shown = sentence;
    clearTimeout(this.#shownFor);
    this.#shownFor = setTimeout(() => (this.shown = ""), SHOWN_MS);
  }

  async setSettings(change: Partial<Schemas["SettingsTold"]>): Promise<void> {
    if (!this.state) return;
    const kept = await this.act(() =>
      told(api.PATCH("/api/settings", { body: change as Schemas["SettingsChange"] })),
    );
    if (kept && this.state) {
      this.state.settings = kept.settings;
      this.state.base_map_agreed = kept.base_map_agreed;
    }
  }

  async setPerson(person: string): Promise<void> {
    const done = await this.act(() => told(api.PUT("/api/session/person", { body: { person } })));
    if (done !== undefined && this.state) this.state.person = person;
  }
}

export const daybook = new Daybook();
