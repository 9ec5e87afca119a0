// Written by hand, so that no build and no network is needed: JupyterLab loads this
// file, hands over the modules it shares, and asks for "./extension".
(() => {
  "use strict";

  // A probe on a round contact, with the reach of its uncertainty above and below.
  const ICON = `<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 24 24" width="24">
  <g fill="none" stroke="#9a7b1a" stroke-width="1.8" stroke-linecap="round">
    <circle cx="8" cy="16" r="4.6"/>
    <path d="M8 16 L14.4 9.6"/>
    <path d="M14.4 9.6 L20 4" stroke-width="4"/>
    <path d="M18.5 13v8M16.3 13h4.4M16.3 21h4.4M17.2 17h2.6"/>
  </g>
</svg>`;

  const COMMAND = "benchproof:new-case";
  const PUBLISH = "benchproof:publish";
  const NOTEBOOK = /(^|\/)investigation\.ipynb$/;
  let scope = null;

  // The modules JupyterLab shares, by name, each in one version.
  const shared = async (name) => {
    const versions = Object.values(scope[name] ?? {});
    if (!versions.length) throw new Error(`benchproof: JupyterLab shares no ${name}`);
    return (await versions[0].get())();
  };

  const plugin = ({ ILauncher, ICommandPalette, InputDialog, Notification, Dialog, showDialog, showErrorMessage, IDefaultFileBrowser, ServerConnection, LabIcon, CommandToolbarButton, Widget }) => ({
    id: "benchproof:new-case",
    description: "Makes a new investigation, and publishes it.",
    autoStart: true,
    optional: [ILauncher, ICommandPalette, IDefaultFileBrowser],
    activate: (app, launcher, palette, browser) => {
      const icon = new LabIcon({ name: "benchproof:case", svgstr: ICON });

      const asked = async (what, body) => {
        const settings = app.serviceManager.serverSettings;
        const response = await ServerConnection.makeRequest(
          `${settings.baseUrl}benchproof/${what}`,
          { method: "POST", body: JSON.stringify(body) },
          settings,
        );
        const said = await response.json().catch(() => ({}));
        if (response.ok) return said;
        if (response.status === 404) {
          throw new Error("This JupyterLab was started before benchproof was installed, or from another environment. Start it again: benchproof lab CASE");
        }
        throw new Error(said.message ?? response.statusText);
      };

      // Drives of other file systems are not folders of this server.
      const here = (args) => {
        const path = args.folder ?? args.cwd ?? browser?.model.path ?? "";
        return path.includes(":") ? "" : path;
      };

      // Asks until it works or is given up: a refused title can be changed.
      const begin = async (args) => {
        const folder = here(args);
        const template = args.template ?? "case";
        let title = args.title ?? "";
        for (let ask = !args.title; ; ask = true) {
          if (ask) {
            const answer = await InputDialog.getText({
              title: template === "quick" ? "New quick check" : "New investigation",
              label: "What is claimed, or what fails? A few words; the folder is named after them.",
              text: title,
              okLabel: "Make it",
            });
            if (!answer.button.accept || !answer.value?.trim()) return undefined;
            title = answer.value.trim();
          }
          try {
            const { path } = await asked("new", { title, folder, template });
            await browser?.model.refresh();
            return await app.commands.execute("docmanager:open", { path, factory: "Notebook", kernel: { name: "python3" } });
          } catch (problem) {
            await showErrorMessage("Nothing was made", problem.message ?? String(problem));
          }
        }
      };

      // Saves, runs in a fresh kernel, publishes, and says what the run found.
      const publish = async () => {
        const panel = app.shell.currentWidget;
        const path = panel?.context?.path;
        if (!NOTEBOOK.test(path ?? "")) return undefined;
        const note = Notification.emit("Running the investigation afresh…", "in-progress", { autoClose: false });
        try {
          await panel.context.save();
          const { page, said } = await asked("publish", { path: path.replace(/^RTC:/, "") });
          Notification.dismiss(note);
          await panel.context.revert(); // the run wrote its outputs into the notebook
          const node = Object.assign(document.createElement("pre"), { textContent: said, tabIndex: 0 });
          node.style.overflow = "auto";
          const answer = await showDialog({
            title: "Run and published",
            body: new Widget({ node }),
            buttons: [Dialog.cancelButton({ label: "Close" }), Dialog.okButton({ label: "Open the write-up" })],
          });
          if (answer.button.accept) await app.commands.execute("docmanager:open", { path: page });
          return page;
        } catch (problem) {
          Notification.dismiss(note);
          await panel.context.revert(); // up to where it stopped
          await showErrorMessage("Not published", problem.message ?? String(problem));
          return undefined;
        }
      };
      app.commands.addCommand(PUBLISH, {
        label: (args) => (args.isPalette ? "Run Afresh and Publish (benchproof)" : "Publish"),
        caption: "Run the investigation in a fresh kernel and write its page",
        isEnabled: () => NOTEBOOK.test(app.shell.currentWidget?.context?.path ?? ""),
        execute: publish,
      });
      palette?.addItem({ command: PUBLISH, category: "benchproof", args: { isPalette: true } });
      app.docRegistry.addWidgetExtension("Notebook", {
        createNew: (panel) => {
          if (!NOTEBOOK.test(panel.context.path)) return undefined;
          const button = new CommandToolbarButton({ commands: app.commands, id: PUBLISH });
          panel.toolbar.insertItem(10, "benchproof-publish", button);
          return button;
        },
      });

      // What can be begun: each a template, a card and a palette entry.
      const CARDS = {
        case: ["Investigation", "Make a case folder from the template and open its notebook"],
        quick: ["Quick Check", "The same for one claim, one rival and one quantity"],
      };
      const card = (args) => CARDS[args.template] ?? CARDS.case;
      app.commands.addCommand(COMMAND, {
        label: (args) => (args.isPalette ? `New ${card(args)[0]} (benchproof)` : card(args)[0]),
        caption: (args) => card(args)[1],
        icon: (args) => (args.isPalette ? undefined : icon),
        execute: begin,
      });
      Object.keys(CARDS).forEach((template, i) => {
        // Cards of this category show a picture by its address, not a command's icon.
        launcher?.add({ command: COMMAND, category: "Notebook", rank: 10 + i, args: { template }, kernelIconUrl: `data:image/svg+xml,${encodeURIComponent(ICON)}` });
        palette?.addItem({ command: COMMAND, category: "benchproof", args: { isPalette: true, template } });
      });
    },
  });

  const extension = async () => {
    const modules = await Promise.all(
      ["@jupyterlab/launcher", "@jupyterlab/apputils", "@jupyterlab/filebrowser", "@jupyterlab/services", "@jupyterlab/ui-components", "@lumino/widgets"].map(shared),
    );
    const plugins = plugin(Object.assign({}, ...modules));
    return () => ({ __esModule: true, default: plugins });
  };

  window._JUPYTERLAB = window._JUPYTERLAB ?? {};
  window._JUPYTERLAB.benchproof = {
    init: (shareScope) => {
      scope = shareScope;
    },
    get: (module) => {
      if (module !== "./extension") throw new Error(`benchproof has no module ${module}`);
      return extension();
    },
  };
})();
