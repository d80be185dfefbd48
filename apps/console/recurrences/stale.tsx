/** Said beside figures of the last scoring that stand on what is another now. */
export function Stale({ isStale }: { readonly isStale: boolean }) {
  if (!isStale) return null;
  return (
    <p className="state state-warning">
      <span>
        <strong>Climates, platforms or rules have changed since.</strong> The worker is making these figures anew; open this page again in a
        few minutes.
      </span>
    </p>
  );
}
