import { svelte } from "@sveltejs/vite-plugin-svelte";
import { defineConfig } from "vite";

export default defineConfig({
  plugins: [svelte()],
  build: {
    outDir: "../src/kerfwright/workbench/static",
    emptyOutDir: true,
    // Nothing is inlined: the page's policy allows scripts and styles from its own files only.
    assetsInlineLimit: 0,
    modulePreload: { polyfill: false },
    license: { fileName: "licenses.md" },
  },
  server: { proxy: { "/api": { target: "http://127.0.0.1:8733", ws: true, changeOrigin: true } } },
});
