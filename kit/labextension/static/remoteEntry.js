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
  let scope = null;

  // The modules JupyterLab shares, by name, each in one version.
  const shared = async (name) => {
    const versions = Object.values(scope[name] ?? {});
    if (!versions.length) throw new Error(`benchproof: JupyterLab shares no ${name}`);
    return (await versions[0].get())();
  };

  const plugin = ({ ILauncher, ICommandPalette, InputDialog, showErrorMessage, IDefaultFileBrowser, ServerConnection, LabIcon }) => ({
    id: "benchproof:new-case",
    description: "Makes a new investigation and opens it.",
    autoStart: true,
    optional: [ILauncher, ICommandPalette, IDefaultFileBrowser],
    activate: (app, launcher, palette, browser) => {
      const icon = new LabIcon({ name: "benchproof:case", svgstr: ICON });

      const made = async (title, folder) => {
        const settings = app.serviceManager.serverSettings;
        const response = await ServerConnection.makeRequest(
          `${settings.baseUrl}benchproof/new`,
          { method: "POST", body: JSON.stringify({ title, folder }) },
          settings,
        );
        const said = await response.json().catch(() => ({}));
        if (response.ok) return said.path;
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
        let title = args.title ?? "";
        for (let ask = !args.title; ; ask = true) {
          if (ask) {
            const answer = await InputDialog.getText({
              title: "New investigation",
              label: "What is claimed, or what fails? A few words; the folder is named after them.",
              text: title,
              okLabel: "Make it",
            });
            if (!answer.button.accept || !answer.value?.trim()) return undefined;
            title = answer.value.trim();
          }
          try {
            const path = await made(title, folder);
            await browser?.model.refresh();
            return await app.commands.execute("docmanager:open", { path, factory: "Notebook", kernel: { name: "python3" } });
          } catch (problem) {
            await showErrorMessage("Nothing was made", problem.message ?? String(problem));
          }
        }
      };

      app.commands.addCommand(COMMAND, {
        label: (args) => (args.isPalette ? "New Investigation (benchproof)" : "Investigation"),
        caption: "Make a case folder from the template and open its notebook",
        icon: (args) => (args.isPalette ? undefined : icon),
        execute: begin,
      });
      // Cards of this category show a picture by its address, not a command's icon.
      launcher?.add({ command: COMMAND, category: "Notebook", rank: 10, kernelIconUrl: `data:image/svg+xml,${encodeURIComponent(ICON)}` });
      palette?.addItem({ command: COMMAND, category: "benchproof", args: { isPalette: true } });
    },
  });

  const extension = async () => {
    const [{ ILauncher }, { ICommandPalette, InputDialog, showErrorMessage }, { IDefaultFileBrowser }, { ServerConnection }, { LabIcon }] =
      await Promise.all(
        ["@jupyterlab/launcher", "@jupyterlab/apputils", "@jupyterlab/filebrowser", "@jupyterlab/services", "@jupyterlab/ui-components"].map(shared),
      );
    const plugins = plugin({ ILauncher, ICommandPalette, InputDialog, showErrorMessage, IDefaultFileBrowser, ServerConnection, LabIcon });
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
