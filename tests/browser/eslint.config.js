// How the page's script is linted. Run from the repository's root: the script lies outside of this folder.
import js from "@eslint/js";
import globals from "globals";

export default [
  js.configs.recommended,
  {
    files: ["**/*.js"],
    languageOptions: { sourceType: "module", globals: { ...globals.browser, Plotly: "readonly" } },
    rules: { eqeqeq: "error", "no-var": "error", "prefer-const": "error", "no-shadow": "off" },
  },
];
