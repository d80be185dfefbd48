export function VehiclePage(_: { readonly search?: URLSearchParams; readonly id?: string }) {
  return <h1>VehiclePage</h1>;
}
