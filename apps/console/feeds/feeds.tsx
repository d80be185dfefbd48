export function Feeds(_: { readonly search?: URLSearchParams; readonly id?: string }) {
  return <h1>Feeds</h1>;
}
