// Wakes the panel of a labkit notebook: runs its one tagged cell when the notebook is
// opened and again whenever its kernel is new. Loaded by JupyterLab as it stands (module
// federation container, written without a bundler): edit here, reload the page.
"use strict";

(() => {
  const TAG = "labkit-panel";
  const CORE = "@jupyterlab/application-top";
  const WORDS = {
    asleep: ["This panel is asleep.", "Wake the panel"],
    failed: ["This panel did not wake. What went wrong is written in its place below.", "Try again"],
    stopped: ["The kernel has stopped. What you typed is kept in this browser.", "Start again"],
    waking: ["One moment…", ""],
  };

  const STARTED_AGAIN =
    "The kernel stopped by itself and was started again. What you typed in a panel is kept; " +
    "cells that you ran yourself must be run again.";

  // The only code that is ever run without a press: three lines, nothing before or after.
  const PANEL_CELL = /^from labkit\.[a-z][a-z_]* import ([A-Z][A-Za-z]*Panel)\npanel = \1\(\)\npanel\n?$/;

  const isPanelCell = (source) => PANEL_CELL.test(source);

  let scope = {};

  // The running lab's own copy of a package, so that its tokens are the lab's tokens.
  async function shared(name) {
    const versions = Object.values(scope[name] ?? {});
    const offered = versions.find((each) => each.from === CORE) ?? versions[0];
    if (!offered) {
      throw new Error(`labkit-starter: this JupyterLab does not share ${name}`);
    }
    return (await offered.get())();
  }

  function makeBar(Widget) {
    const bar = new Widget();
    bar.addClass("labkit-bar");
    bar.node.style.cssText =
      "display:flex; align-items:center; gap:12px; min-height:48px; padding:0 12px; overflow:hidden;" +
      "background:#fff4d6; color:#3b2a00; border-bottom:1px solid #8a6d1d; font-size:14px; line-height:1.3;";
    const words = document.createElement("span");
    words.setAttribute("role", "status");
    const button = document.createElement("button");
    button.type = "button";
    button.style.cssText =
      "flex:none; min-height:36px; padding:0 16px; border:0; border-radius:4px; cursor:pointer;" +
      "background:#4a3500; color:#ffffff; font:inherit;";
    bar.node.append(words, button);
    bar.hide();
    return { bar, words, button };
  }

  // One notebook: what its kernel and its panel cell are doing, and the bar that says so.
  class Watch {
    constructor(notebook, { Widget, CodeCell, Notification }) {
      this.notebook = notebook;
      this.Notification = Notification;
      this.session = notebook.sessionContext;
      this.CodeCell = CodeCell;
      this.awake = false;
      this.failed = false;
      this.running = false;
      this.hadKernel = false;
      this.starts = 0;
      Object.assign(this, makeBar(Widget));
      this.button.addEventListener("click", () => this.pressed());
      notebook.contentHeader.addWidget(this.bar);
      this.session.statusChanged.connect((_, status) => this.heard(status));
      this.session.connectionStatusChanged.connect(() => this.consider());
      this.session.kernelChanged.connect(() => this.heard("changed"));
      this.quietNews();
    }

    // The lab's own dialog about a kernel that started again lies over the panel until it is answered.
    // The same news is told in a corner instead; where this lab has no such dialog, it is left as it is.
    quietNews() {
      const dialog = this.notebook._onSessionStatusChanged;
      if (this.cells.length && dialog && this.session.statusChanged.disconnect(dialog, this.notebook)) {
        this.tellsNews = true;
      }
    }

    get cells() {
      return this.notebook.content.widgets.filter(
        (cell) => cell.model.type === "code" && (cell.model.getMetadata("tags") ?? []).includes(TAG),
      );
    }

    get kernel() {
      const kernel = this.session.session?.kernel;
      return kernel && (!kernel.isDisposed || kernel.status === "dead") ? kernel : null;
    }

    get ready() {
      const words = [this.kernel?.connectionStatus, this.kernel?.status, this.session.kernelDisplayStatus];
      return words.join() === "connected,idle,idle";
    }

    get stopped() {
      return this.kernel?.status === "dead" || this.lastStatus === "dead";
    }

    heard(status) {
      if (status === "autorestarting" && this.lastStatus !== status && this.tellsNews) {
        this.Notification.warning(STARTED_AGAIN, { autoClose: 20000 });
      }
      this.lastStatus = status;
      if (["restarting", "autorestarting", "dead", "terminating", "changed"].includes(status)) {
        this.starts += 1;
        this.awake = false;
        this.failed = false;
      }
      this.consider();
    }

    // The maker ran the panel's cell by hand.
    ran(cell, success) {
      if (this.cells.includes(cell)) {
        this.awake = success;
        this.failed = !success;
        this.consider();
      }
    }

    consider() {
      if (this.notebook.isDisposed || this.running) {
        return;
      }
      this.hadKernel ||= this.ready;
      if (this.awake || this.cells.length === 0) {
        this.show(null);
      } else if (this.stopped) {
        this.show("stopped");
      } else if (this.failed) {
        this.show("failed");
      } else if (!this.kernel && (this.hadKernel || this.session.isReady)) {
        this.show("asleep");
      } else if (!this.ready) {
        this.show(null);
      } else if (this.cells.every((cell) => isPanelCell(cell.model.sharedModel.getSource()))) {
        this.alone(() => this.run());
      } else {
        this.show("asleep");
      }
    }

    // Do one piece of work at a time: two runs of one cell would cancel each other for ever.
    async alone(work) {
      if (this.running) {
        return;
      }
      this.running = true;
      let pause = 0;
      try {
        await work();
      } catch (error) {
        // A kernel that stops in the middle cancels the run; what becomes of it is clear a little later.
        console.warn("labkit-starter: the panel was not woken", error);
        pause = 1000;
      }
      setTimeout(() => {
        this.running = false;
        this.consider();
      }, pause);
    }

    async run() {
      const starts = this.starts;
      let whole = true;
      for (const cell of this.cells) {
        const reply = await this.CodeCell.execute(cell, this.session);
        whole &&= reply?.content.status === "ok";
      }
      if (starts === this.starts) {
        this.awake = whole;
        this.failed = !whole;
      }
    }

    async pressed() {
      const hadFocus = this.bar.node.contains(document.activeElement);
      this.show("waking");
      await this.alone(async () => {
        await this.freshKernel();
        await this.untilReady();
        await this.run();
      });
      if (hadFocus && this.awake) {
        this.notebook.activate();
      }
    }

    // The server forgets the session of a kernel that is gone for good: it is replaced, not restarted.
    async freshKernel() {
      if (this.kernel && !this.stopped) {
        return;
      }
      const name = this.session.prevKernelName || this.session.kernelPreference.name || "python3";
      await this.session.shutdown();
      await this.session.changeKernel({ name });
    }

    untilReady() {
      return new Promise((resolve, reject) => {
        const look = (left) => {
          if (this.ready) {
            resolve();
          } else if (left === 0 || this.notebook.isDisposed) {
            reject(new Error("the kernel did not become ready"));
          } else {
            setTimeout(look, 100, left - 1);
          }
        };
        look(600);
      });
    }

    show(state) {
      const [words, label] = WORDS[state] ?? ["", ""];
      this.notebook.node.dataset.labkit = state ?? (this.awake ? "awake" : "");
      this.bar.setHidden(state === null);
      this.words.textContent = words;
      this.button.textContent = label;
      this.button.hidden = label === "";
    }
  }

  async function makePlugin() {
    const [{ INotebookTracker, NotebookActions }, { CodeCell }, { Widget }, { Notification }] = await Promise.all(
      ["@jupyterlab/notebook", "@jupyterlab/cells", "@lumino/widgets", "@jupyterlab/apputils"].map(shared),
    );
    return {
      id: "labkit-starter:plugin",
      description: "Wakes the panel of a labkit notebook.",
      autoStart: true,
      requires: [INotebookTracker],
      activate: (app, tracker) => {
        const watches = new Map();
        const watch = async (notebook) => {
          await notebook.context.ready;
          const watched = new Watch(notebook, { Widget, CodeCell, Notification });
          watches.set(notebook.content, watched);
          notebook.disposed.connect(() => watches.delete(notebook.content));
          watched.consider();
        };
        NotebookActions.executed.connect((_, { notebook, cell, success }) => {
          watches.get(notebook)?.ran(cell, success);
        });
        tracker.forEach(watch);
        tracker.widgetAdded.connect((_, notebook) => watch(notebook));
      },
    };
  }

  window._JUPYTERLAB = window._JUPYTERLAB ?? {};
  window._JUPYTERLAB["labkit-starter"] = {
    init: (shareScope) => {
      scope = shareScope;
    },
    get: async (module) => {
      if (module === "./pattern") {
        return () => ({ isPanelCell });
      }
      const plugin = await makePlugin();
      return () => ({ __esModule: true, default: plugin });
    },
  };
})();
