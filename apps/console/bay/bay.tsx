export function Bay(_: { readonly search?: URLSearchParams; readonly id?: string }) {
  return <h1>Bay</h1>;
}
