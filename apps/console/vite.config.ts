import { fileURLToPath } from 'node:url';
import react from '@vitejs/plugin-react';
import { defineConfig } from 'vite';
import { offlineWorker } from './offline/worker-build.ts';

const here = (path: string) => fileURLToPath(new URL(path, import.meta.url));
/** Where `vite dev` finds the API: a server started with `npm start`. */
const api = process.env['COOLBACK_URL'] ?? 'http://127.0.0.1:4280';

export default defineConfig({
  root: here('.'),
  plugins: [react(), offlineWorker()],
  build: {
    outDir: here('../../dist/console'),
    emptyOutDir: true,
    target: 'es2022',
    // Inlined assets would be data: addresses in scripts, which the content security policy refuses.
    assetsInlineLimit: 0,
    modulePreload: { polyfill: false },
    rollupOptions: { input: { index: here('index.html'), graphiql: here('graphiql.html') } },
  },
  server: { proxy: { '/v1': api, '/graphql': api, '/openapi.json': api, '/docs': api, '/problems': api } },
});
