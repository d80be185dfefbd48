/** Words of free text as they are searched for: lower case, at least three letters or digits, each once, at most `limit`. */
export function wordsOf(texts: readonly (string | null | undefined)[], limit = 200): string[] {
  const words = new Set<string>();
  for (const text of texts) {
    for (const word of (text ?? '')
      .normalize('NFC')
      .toLowerCase()
      .match(/[\p{L}\p{N}]{3,40}/gu) ?? []) {
      words.add(word);
      if (words.size >= limit) return [...words];
    }
  }
  return [...words];
}
