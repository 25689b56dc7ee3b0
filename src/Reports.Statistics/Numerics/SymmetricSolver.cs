using MathNet.Numerics.LinearAlgebra;

namespace Reports.Statistics;

/// <summary>
/// Small symmetric positive definite systems, row-major: solution, inverse and Cholesky factor L (A = LL').
/// <para>Method: Cholesky (Golub &amp; Van Loan 2013, algorithm 4.2.2). Accuracy: that of the condition number.</para>
/// </summary>
public static class SymmetricSolver
{
    public static double[] Solve(double[] matrix, double[] right)
    {
        var n = right.Length;
        return Of(matrix, n).Cholesky().Solve(Vector<double>.Build.Dense(right)).ToArray();
    }

    public static double[] Inverse(double[] matrix, int size) =>
        Of(matrix, size).Cholesky().Solve(Matrix<double>.Build.DenseIdentity(size)).ToRowMajorArray();

    /// <summary>A diagonal matrix, row-major.</summary>
    public static double[] Diagonal(IReadOnlyList<double> diagonal)
    {
        var matrix = new double[diagonal.Count * diagonal.Count];
        for (var i = 0; i < diagonal.Count; i++)
        {
            matrix[i * (diagonal.Count + 1)] = diagonal[i];
        }

        return matrix;
    }

    /// <summary>L, row-major.</summary>
    public static double[] Factor(double[] matrix, int size) => Of(matrix, size).Cholesky().Factor.ToRowMajorArray();

    private static Matrix<double> Of(double[] matrix, int size) =>
        Matrix<double>.Build.Dense(size, size, (i, j) => (matrix[i * size + j] + matrix[j * size + i]) / 2);
}
