import { QueryClientProvider } from '@tanstack/react-query';
import { createRoot } from 'react-dom/client';
import { newQueryClient } from '../client/queries.ts';
import { applyTheme } from '../shell/theme.tsx';
import '../style/console.css';
import '../style/queries.css';
import { QueryPage } from './query-page.tsx';

applyTheme();
createRoot(document.getElementById('console')!).render(
  <QueryClientProvider client={newQueryClient()}>
    <QueryPage />
  </QueryClientProvider>,
);
