import { QueryClientProvider } from '@tanstack/react-query';
import { createRoot } from 'react-dom/client';
import { newQueryClient } from './client/queries.ts';
import { Console } from './shell/console.tsx';
import { applyTheme } from './shell/theme.tsx';
import './style/console.css';
import './style/bay.css';
import './style/recurrences.css';

applyTheme();
createRoot(document.getElementById('console')!).render(
  <QueryClientProvider client={newQueryClient()}>
    <Console />
  </QueryClientProvider>,
);
