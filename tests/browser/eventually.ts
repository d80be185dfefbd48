import type { Page } from 'playwright-core';
import { PATIENCE_MS } from './chromium.js';

/** Waits until an expression of the page is true, and gives its value. Asked from outside: the page's own policy lets nothing be evaluated in it. */
export async function eventually<T>(page: Page, expression: string): Promise<T> {
  const end = Date.now() + PATIENCE_MS;
  for (;;) {
    const value = await page.evaluate<T>(expression);
    if (value) return value;
    if (Date.now() > end) throw new Error(`never came true: ${expression}`);
    await page.waitForTimeout(100);
  }
}
