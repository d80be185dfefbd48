import { QueryClientProvider } from '@tanstack/react-query';
import { createRoot } from 'react-dom/client';
import { newQueryClient } from './client/queries.ts';
import { Console } from './shell/console.tsx';
import { applyTheme } from './shell/theme.tsx';
import './style/console.css';
import './style/bay.css';
import './style/recurrences.css';

applyTheme();
// The console's own files are kept, so that it opens without a connection (`offline/worker.ts`). Only where the page is served as built.
if (import.meta.env.PROD && 'serviceWorker' in navigator)
  window.addEventListener('load', () => navigator.serviceWorker.register('/worker.js').catch(() => {}));
createRoot(document.getElementById('console')!).render(
  <QueryClientProvider client={newQueryClient()}>
    <Console />
  </QueryClientProvider>,
);
