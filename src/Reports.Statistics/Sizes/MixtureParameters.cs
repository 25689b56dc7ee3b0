namespace Reports.Statistics;

/// <summary>
/// Free coordinates of a mixture of K groups: K - 1 logits against the last group, K values of mu, K values eta with
/// s = floor + eta^2 (the floor is reached in finite steps, with a gradient that vanishes there as it should), and, where
/// the shares vary from line to line, ln phi.
/// </summary>
internal sealed class MixtureParameters(int components, double floor, bool varying)
{
    // Past this the shares vary by less than 0.1 %: the pooled model.
    internal const double MaximumLogConcentration = 13.8;

    internal int Count { get; } = 3 * components - 1 + (varying ? 1 : 0);
    internal double[] Pi { get; } = new double[components];
    internal double[] Mu { get; } = new double[components];
    internal double[] Sigma { get; } = new double[components];
    internal double Concentration { get; private set; } = double.PositiveInfinity;

    // Filled by the likelihood: partial derivatives with respect to the natural parameters.
    internal double[] ByPi { get; } = new double[components];
    internal double[] ByMu { get; } = new double[components];
    internal double[] BySigma { get; } = new double[components];
    internal double ByLogConcentration { get; set; }

    internal void Read(double[] v)
    {
        var K = components;
        var top = 0.0;
        for (var k = 0; k < K - 1; k++)
        {
            top = Math.Max(top, v[k]);
        }

        var sum = 0.0;
        for (var k = 0; k < K; k++)
        {
            sum += Pi[k] = Math.Exp((k < K - 1 ? v[k] : 0) - top);
        }

        for (var k = 0; k < K; k++)
        {
            Pi[k] /= sum;
            Mu[k] = v[K - 1 + k];
            Sigma[k] = floor + v[2 * K - 1 + k] * v[2 * K - 1 + k];
        }

        if (varying)
        {
            Concentration = Math.Exp(Math.Clamp(v[3 * K - 1], -7, MaximumLogConcentration));
        }

        Array.Clear(ByPi);
        Array.Clear(ByMu);
        Array.Clear(BySigma);
        ByLogConcentration = 0;
    }

    internal void Set(LognormalMixture mixture, double concentration)
    {
        for (var k = 0; k < components; k++)
        {
            (Pi[k], Mu[k], Sigma[k]) = (mixture.Weights[k], mixture.MeanLog[k], mixture.SdLog[k]);
        }

        Concentration = concentration;
    }

    /// <summary>The gradient of minus the log-likelihood in the free coordinates.</summary>
    internal void WriteNegativeGradient(double[] v, double[] gradient)
    {
        var K = components;
        var mean = 0.0;
        for (var k = 0; k < K; k++)
        {
            mean += Pi[k] * ByPi[k];
        }

        for (var k = 0; k < K; k++)
        {
            if (k < K - 1)
            {
                gradient[k] = -Pi[k] * (ByPi[k] - mean);
            }

            gradient[K - 1 + k] = -ByMu[k];
            gradient[2 * K - 1 + k] = -BySigma[k] * 2 * v[2 * K - 1 + k];
        }

        if (varying)
        {
            gradient[3 * K - 1] = v[3 * K - 1] is > -7 and < MaximumLogConcentration ? -ByLogConcentration : 0;
        }
    }

    /// <summary>Free coordinates of given natural ones.</summary>
    internal double[] Point(double[] pi, double[] mu, double[] sigma, double logConcentration = 0)
    {
        var K = components;
        var v = new double[Count];
        for (var k = 0; k < K; k++)
        {
            if (k < K - 1)
            {
                v[k] = Math.Log(Math.Max(pi[k], 1e-10) / Math.Max(pi[K - 1], 1e-10));
            }

            v[K - 1 + k] = mu[k];
            v[2 * K - 1 + k] = Math.Sqrt(Math.Max(sigma[k] - floor, 1e-8));
        }

        if (varying)
        {
            v[3 * K - 1] = logConcentration;
        }

        return v;
    }

    internal LognormalMixture Mixture(double[] v)
    {
        Read(v);
        return new(Pi, Mu, Sigma);
    }
}
