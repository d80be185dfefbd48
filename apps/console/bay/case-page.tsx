export function CasePage(_: { readonly search?: URLSearchParams; readonly id?: string }) {
  return <h1>CasePage</h1>;
}
