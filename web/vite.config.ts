import { svelte } from "@sveltejs/vite-plugin-svelte";
import { defineConfig } from "vitest/config";

/** Where the server looks for the page; git ignores it, the wheel carries it. */
const PAGE = "../src/wherestood/server/page";

export default defineConfig({
  plugins: [svelte()],
  base: "./",
  build: {
    outDir: PAGE,
    emptyOutDir: true,
    target: "es2023",
    // The page's policy allows no data: addresses.
    assetsInlineLimit: 0,
    modulePreload: { polyfill: false },
    chunkSizeWarningLimit: 1500,
  },
  resolve: process.env.VITEST ? { conditions: ["browser"] } : {},
  test: { include: ["src/**/*.test.ts"], environment: "node", isolate: false },
});
